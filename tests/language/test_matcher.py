"""What an utterance means: exactly what may be said now, and nothing else."""

from __future__ import annotations

from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.hearing.types import normal
from handsfree.language import (
    COMMANDS,
    PREFIXES,
    Command,
    Expected,
    GoTo,
    Matcher,
    NotHere,
    Number,
    OtherUnit,
    Reading,
    Remind,
    Respond,
    TakeBackStep,
    Unknown,
    load_language,
)

EN = Matcher(load_language("en"))
KO = Matcher(load_language("ko"))
STEPS = {"water": ("water", "the hose"), "power": ("power",)}
ALL = Expected(
    commands=frozenset((*COMMANDS, *PREFIXES)),
    responses={"Chocks set": "chock", "Area clear.": "clear"},
    steps=STEPS,
    unit="volts",
)


@pytest.mark.parametrize(
    ("text", "intent"),
    [
        ("done", Command("done")),
        ("Done!", Command("done")),
        ("chocks set", Respond("chock")),
        ("Chocks-set.", Respond("chock")),
        ("area clear", Respond("clear")),
        ("go to water", GoTo("water")),
        ("jump to the hose", GoTo("water")),
        ("take back power", TakeBackStep("power")),
        ("take it back", Command("take_back")),
        ("one eighteen volts", Number((Reading(F(118), "volts"),))),
        ("twelve six", Number((Reading(F(126), "volts"), Reading(F("12.6"), "volts")))),
        ("remind me in ten minutes", Remind((Reading(F(10), "minutes"),))),
        ("remind me in ten", Remind((Reading(F(10), "minutes"),))),
        ("remind me in half an hour",
         Remind((Reading(F(30), "minutes", Reading(F(1, 2), "hours")),))),
    ],
)
def test_what_may_be_said_is_understood(text: str, intent: object) -> None:
    assert EN.interpret(text, ALL) == intent


def test_another_unit_is_its_own_intent() -> None:
    heard = EN.interpret("sixty psi", ALL)
    assert isinstance(heard, OtherUnit)
    assert heard.wrong.wanted == "volts"
    assert heard.wrong.readings == (Reading(F(60), "psi"),)


@pytest.mark.parametrize("matcher", [EN, KO], ids=["en", "ko"])
def test_every_wording_of_every_command(matcher: Matcher) -> None:
    for command in COMMANDS:
        for phrase in matcher.language.commands[command]:
            assert matcher.interpret(phrase, ALL) == Command(command)
            closed = Expected(commands=ALL.commands - {command}, unit="volts")
            elsewhere = matcher.interpret(phrase, closed)
            assert not isinstance(elsewhere, Command) or elsewhere.id != command, phrase


@pytest.mark.parametrize(
    "text",
    ["chock set", "chocks sat", "chocks", "chocks set chocks set", "chocks not set", "don",
     "are the chocks set", "go to", "go to fire", "water", "take back",
     "remind me in zero minutes", "remind me in sixty psi", "", "one eighteen done"],
)  # fmt: skip
def test_a_near_match_never_counts(text: str) -> None:
    """At most it is suggested; an intent that acts never comes of it."""
    assert isinstance(EN.interpret(text, ALL), (Unknown, NotHere))


def test_a_near_match_is_suggested() -> None:
    assert EN.interpret("chock set", ALL) == Unknown("chock set", "chocks set")
    assert EN.interpret("xylophone", ALL) == Unknown("xylophone", "")


def test_a_name_of_two_steps_means_neither() -> None:
    """The operator is asked, the first one is not taken."""
    expected = Expected(frozenset({"go_to"}), steps={"a": ("hose",), "b": ("hose",)})
    assert isinstance(EN.interpret("go to hose", expected), Unknown)
    for words in ("jump to hose", "take me to hose"):
        assert isinstance(EN.interpret(words, expected), Unknown)


def test_numbers_only_where_a_reading_is_due() -> None:
    assert isinstance(EN.interpret("five", Expected(frozenset({"done"}))), Unknown)


@pytest.mark.parametrize("matcher", [EN, KO], ids=["en", "ko"])
def test_the_grammar_is_what_is_understood(matcher: Matcher) -> None:
    """The recogniser is told every phrase that interpret takes, and each of them acts."""
    grammar = matcher.grammar(ALL)
    acting = {normal(p) for p in matcher.phrases(ALL)}
    assert acting <= grammar.phrases
    for phrase in acting:
        assert not isinstance(matcher.interpret(phrase, ALL), (Unknown, NotHere)), phrase
    for phrase in grammar.phrases - acting:  # listened for so that it is taken for nothing else
        assert isinstance(matcher.interpret(phrase, ALL), NotHere), phrase


def test_wordings_that_mean_the_same_are_told() -> None:
    told = EN.grammar(Expected(
        commands=frozenset({"skip", "go_to"}), steps={"cord": ("cord", "power cord"), "a": ("mast",)}))
    assert frozenset(map(normal, EN.language.commands["skip"])) in told.alike
    cords = next(some for some in told.alike if "go to cord" in some)
    assert "jump to power cord" in cords and "go to mast" not in cords
    assert all(phrase in told.phrases for some in told.alike for phrase in some)


def test_the_grammar_of_a_reading() -> None:
    """Units of the quantity, number words, and neither where no reading is due."""
    grammar = EN.grammar(Expected(unit="psi"))
    assert {"psi", "bar", "kilopascals", "pounds"} <= grammar.units
    assert "volts" not in grammar.units
    assert {"one", "eighteen", "point", "and", "half", "oh", "niner"} <= grammar.numbers
    assert grammar.phrases == frozenset()
    nothing = EN.grammar(Expected(commands=frozenset({"done"})))
    assert nothing.numbers == nothing.units == frozenset()


ANYTHING = st.one_of(
    st.text(max_size=120),
    st.lists(st.sampled_from(sorted({w for p in EN.phrases(ALL) for w in p.split()})),
             max_size=8).map(" ".join),
)


@settings(max_examples=300, deadline=None)
@given(ANYTHING)
def test_whatever_is_heard_only_what_means_it_from_end_to_end_acts(text: str) -> None:
    """Fuzz: no traceback; a command comes only of its phrases or sayings, a response only of all
    of its own words without a not, an order with a name only of one that has the name."""
    intent = EN.interpret(text, ALL)
    words = EN.sayings.plain(text)
    if isinstance(intent, Command) and normal(text) not in EN.phrases(ALL):
        ways = [words, *(first for first, _ in EN.sayings.in_one_breath(words))]
        assert any(intent.id in EN.sayings.means(way) for way in ways)
    if isinstance(intent, Respond):
        phrase = next(p for p, name in ALL.responses.items() if name == intent.response)
        assert set(EN.sayings.plain(phrase)) - {"is", "are"} <= set(words)
        assert not {"not", "never", "nope", "should", "if"} & set(words)
    if isinstance(intent, (GoTo, TakeBackStep)):
        assert any(normal(name) in normal(text) for name in ALL.steps[intent.step_id])
    if isinstance(intent, Unknown) and intent.suggestion:
        assert intent.suggestion in EN.phrases(ALL)


@pytest.mark.parametrize("said", ["both chains are off the hooks", "both chains are off",
                                  "yes, both chains are off", "both chains off"])
def test_of_several_wordings_any_counts(said: str) -> None:
    """Even one whose words are a part of the other's."""
    both = Expected(responses={"both chains are off the hooks": "chains", "both chains are off": "chains"})
    assert EN.interpret(said, both) == Respond("chains")
    alike = EN.grammar(both).alike
    assert any({"both chains are off the hooks", "both chains are off"} <= some for some in alike)
    assert EN.interpret("both chains are not off", both) != Respond("chains")
    assert EN.interpret("both chains", both) == NotHere("respond")
