"""From what was heard to what it means: when a doubtful word may not count, and what would follow."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from handsfree.checklist.conditions import parse
from handsfree.checklist.model import INSIDE, Checklist, Fact, NeverRule, Origin, Reading, Step
from handsfree.engine.state import (
    Answer,
    Ask,
    Confirm,
    Correct,
    Deny,
    Done,
    Event,
    Finish,
    GoTo,
    Mode,
    Pause,
    Problem,
    Read,
    Respond,
    Resume,
    Skip,
    State,
    TakeBack,
    Unclear,
    Unsure,
)
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.matcher import Matcher
from handsfree.language.model import Language
from handsfree.language.readings import Reading as ReadingSaid
from handsfree.session.expecting import LEVEL_LENGTH
from handsfree.session.understanding import LONE, Bands, Meaning, judge, needed, understand
from tests.core.parts import at, english, stay_of

LOW = Bands(certain=0.5, unsure=0.3)
"""An operator's own threshold, lower than ours."""


def heard(words: str, confidence: float = 1.0, engine: str = "voice") -> Hypothesis:
    return Hypothesis(words, confidence, 0.0, 1.0, engine=engine)


def meant(stay: Checklist, state: State, words: str, confidence: float = 1.0, *,
          bands: Bands | None = None, wary: bool = False, engine: str = "voice") -> Meaning:
    return understand(heard(words, confidence, engine), stay, state, Matcher(english()),
                      bands or Bands(), wary)


def hold(stay: Checklist) -> State:
    return at(stay, "chock")


def confirming(stay: Checklist, event: Event, step: str = "chock") -> State:
    return replace(at(stay, step), mode=Mode.CONFIRM, pending=event)


# --- thresholds --------------------------------------------------------------------------------

@pytest.mark.parametrize("step", ["breaker", "pull away"])  # one gives a fact, one ends one
def test_an_own_threshold_never_loosens_what_settles_a_fact(stay: Checklist, step: str) -> None:
    """A fact that nobody reported would let the next dangerous step pass."""
    state = at(stay, step, frozenset({"chocked", "tried"}))
    assert meant(stay, state, "done", 0.8, bands=LOW).event == Unsure(Done())
    assert meant(stay, state, "done", 0.96, bands=LOW).event == Done()


def test_it_loosens_what_settles_nothing(stay: Checklist) -> None:
    mat = at(stay, "mat")
    assert meant(stay, mat, "done", 0.7, bands=LOW).event == Done()
    assert meant(stay, mat, "skip this", 0.5, bands=LOW).event == Skip()
    assert meant(stay, mat, "done", 0.7).event == Unsure(Done())


@pytest.mark.parametrize(("words", "event"), [
    (english().commands["take_back"][0], TakeBack()), ("go to chocks", GoTo("chock")),
    ("problem", Problem()), (english().commands["finish"][0], Finish())])
def test_nor_orders_that_undo_or_jump(stay: Checklist, words: str, event: Event) -> None:
    assert meant(stay, at(stay, "mat"), words, 0.7, bands=LOW).event == Unsure(event)


def test_nor_anything_at_a_hold_point_a_readback_or_in_danger(stay: Checklist) -> None:
    assert meant(stay, hold(stay), "skip this", 0.7, bands=LOW).event == Unsure(Skip())
    assert meant(stay, hold(stay), "chocks set", 0.7, bands=LOW).event == Unsure(Respond())
    back = confirming(stay, Respond())
    assert meant(stay, back, "that is right", 0.7, bands=LOW).event == Unsure(Confirm())
    for state in (confirming(stay, Skip(), "mat"),
                  replace(at(stay, ""), mode=Mode.ALARM, broken="roll")):
        assert needed("skip it now", Meaning(Skip()), stay, state, LOW) == Bands().certain
    assert needed("skip it now", Meaning(Skip()), stay, at(stay, "mat"), LOW) == LOW.certain
    danger = replace(hold(stay), at="", mode=Mode.ALARM, broken="roll")
    assert meant(stay, danger, "wheels are chocked", 0.7, bands=LOW).event == Unsure(Respond())
    assert meant(stay, danger, "why", 0.7, bands=LOW).event == Ask("why")


def test_a_single_word_needs_more(stay: Checklist) -> None:
    mat = at(stay, "mat")
    assert Bands().needed("done") == pytest.approx(0.95) and Bands().needed("skip this") == 0.8
    assert Bands(0.9).needed("done") == 0.98
    assert LONE == 0.15
    assert meant(stay, mat, "done", 0.94).event == Unsure(Done())
    assert meant(stay, mat, "done", 0.95).event == Done()
    assert meant(stay, mat, "skip this", 0.8).event == Skip()
    assert meant(stay, mat, "skip this", 0.79).event == Unsure(Skip())


def test_where_a_reading_is_due_a_skip_needs_as_much_as_a_single_word(stay: Checklist) -> None:
    """"Skip it" was once taken of an Italian announcement: a reading that nobody left out would be
    missing from the record."""
    volts = at(stay, "volts", frozenset({"breaker on"}))
    assert meant(stay, volts, "skip this", 0.94).event == Unsure(Skip())
    assert meant(stay, volts, "skip this", 0.95).event == Skip()
    assert meant(stay, volts, "skip this", 0.5, bands=LOW).event == Unsure(Skip())
    assert meant(stay, volts, "hold on", 0.8).event == meant(stay, volts, "hold on").event


def test_a_no_after_a_readback_needs_no_more_than_a_phrase(stay: Checklist) -> None:
    """In noise a lone "no" of three voices had 0.82 to 0.95 (`bench phrases`); it only has it asked
    again, and "did you say no?" is asked for nothing.  A yes there, and a no to a question, settle."""
    back = confirming(stay, Respond())
    assert meant(stay, back, "no", 0.82).event == Deny()
    assert meant(stay, back, "no", 0.79).event == Unsure(Deny())
    assert meant(stay, confirming(stay, Read("low"), "volts"), "yes", 0.94).event != Confirm()
    asked = confirming(stay, Done(), "mat")
    assert meant(stay, asked, "yes", 0.94).event == Unsure(Confirm())


def test_what_is_read_back_anyway_needs_no_more(stay: Checklist) -> None:
    volts = at(stay, "volts", frozenset({"breaker on"}))
    value = meant(stay, volts, "one hundred twenty", 0.8)
    assert value.event == Read("within") and value.readings[0].value == 120
    assert needed("forty", Meaning(Respond()), stay, hold(stay), Bands()) == 0.8
    doubtful = meant(stay, volts, "one hundred twenty", 0.79)
    assert doubtful.event == Unsure(Read("within")) and doubtful.verdict == "asked"
    assert doubtful.readings


def test_too_little_to_ask_about_is_not_asked_about(stay: Checklist) -> None:
    assert meant(stay, at(stay, "mat"), "done", 0.44) == Meaning(Unclear(), verdict="rejected")
    assert meant(stay, at(stay, "mat"), "done", 0.45).event == Unsure(Done())
    assert meant(stay, at(stay, "mat"), "hotel", 0.99) == Meaning(Unclear(), verdict="rejected")


def test_a_question_that_changes_nothing_is_answered_though_doubtful(stay: Checklist) -> None:
    assert meant(stay, at(stay, "mat"), "say again", 0.5).event == Ask("repeat")
    assert meant(stay, at(stay, "mat"), "make a note", 0.5) == Meaning(
        Unclear(), verdict="rejected")


def test_what_is_asked_about_is_asked_in_the_taught_words(stay: Checklist) -> None:
    asked = meant(stay, at(stay, "mat"), "done", 0.6)
    assert (asked.verdict, asked.said) == ("asked", "done")


# --- noise -------------------------------------------------------------------------------------

def test_in_noise_a_gust_confirms_nothing(stay: Checklist) -> None:
    back = confirming(stay, Skip(), "mat")
    assert meant(stay, back, "yes", wary=True) == Meaning(own="wanted", verdict="rejected")
    assert meant(stay, back, "yes").event == Confirm()
    assert meant(stay, back, "yes", wary=True, engine="keyboard").event == Confirm()
    assert meant(stay, back, "that is right", wary=True).event == Confirm()
    assert meant(stay, back, "no", wary=True).event == Deny()


def test_in_noise_all_is_asked_about_that_is_not_read_back(stay: Checklist) -> None:
    mat = at(stay, "mat")
    assert meant(stay, mat, "done", wary=True).event == Unsure(Done())
    assert meant(stay, mat, "done", wary=True, engine="keyboard").event == Done()
    assert meant(stay, hold(stay), "chocks set", wary=True).event == Respond()
    assert meant(stay, mat, "make a note", wary=True).own == "note"
    paused = replace(mat, mode=Mode.PAUSED)
    assert meant(stay, paused, "carry on", wary=True).event is not None
    assert not isinstance(meant(stay, paused, "carry on", wary=True).event, Unsure)


# --- what was only written down ----------------------------------------------------------------

def written(
    stay: Checklist, state: State, words: str, sure: float = 0.0, *, wary: bool = False,
    bands: Bands | None = None,
) -> Meaning:
    return understand(Rejection("unclear", 0.0, 1.0, written=words, sure=sure), stay, state,
                      Matcher(english()), bands or Bands(), wary)


def test_nothing_that_was_only_written_down_is_done(stay: Checklist) -> None:
    mat = at(stay, "mat")
    assert written(stay, mat, "done").event == Unsure(Done())
    assert written(stay, mat, "done").said == "done"
    assert written(stay, mat, "go to chocks") == Meaning(
        Unsure(GoTo("chock")), verdict="asked", said="go to chocks")
    assert written(stay, mat, "it is done").said == "done"
    assert written(stay, mat, "why").event == Ask("why")
    assert written(stay, mat, "time") == Meaning(own="time")
    assert written(stay, mat, "time") == Meaning(own="time")
    assert written(stay, mat, "the weather is nice").event == Unclear("unclear")
    assert written(stay, hold(stay), "chocks set") == Meaning(own="wanted", verdict="rejected")
    for words in ("that is right", "yes", "no", "okay not right"):
        assert written(stay, confirming(stay, Respond()), words) == Meaning(
            own="wanted", verdict="rejected")
    volts = at(stay, "volts", frozenset({"breaker on"}))
    assert written(stay, volts, "one hundred twenty").event == Unclear("unclear")
    paused = replace(mat, mode=Mode.PAUSED)
    assert written(stay, paused, "carry on").event == Unclear("unclear")
    assert understand(Rejection("too loud", 0.0, 1.0), stay, mat, Matcher(english()),
                      Bands()) == Meaning(Unclear("too loud"), verdict="rejected")


def test_what_was_surely_said_is_done_where_it_hurts_nobody(stay: Checklist) -> None:
    mat = at(stay, "mat")
    assert written(stay, mat, "it is done", 0.95) == Meaning(Done())
    assert written(stay, mat, "it is done", 0.9).event == Done(), "as sure as it has to be"
    assert written(stay, mat, "it is done", 0.89).event == Unsure(Done())
    assert written(stay, mat, "done", 0.94).event == Unsure(Done()), "a single word needs more"
    careful = Bands(certain=0.97, unsure=0.5)
    assert written(stay, mat, "it is done", 0.95, bands=careful).event == Unsure(Done())
    assert written(stay, mat, "it is done", 0.99, wary=True).event == Unsure(Done())
    assert written(stay, mat, "make a note", 0.95).own == "note"
    assert written(stay, mat, "make a note", 0.5).event == Unclear("unclear")
    assert written(stay, at(stay, "water here"), "yes", 0.99).event == Answer(True)


def test_what_jumps_or_leaves_out_is_asked_about_however_sure(stay: Checklist) -> None:
    mat = at(stay, "mat")
    for words, event in (("go to chocks", GoTo("chock")), ("skip this", Skip())):
        assert written(stay, mat, words, 1.0).event == Unsure(event)


def test_a_readback_is_confirmed_by_it_only_where_a_plain_yes_would_do(stay: Checklist) -> None:
    harmless = confirming(stay, Skip(), "mat")
    assert written(stay, harmless, "that is right", 0.99).event == Confirm()
    assert written(stay, harmless, "no", 0.99).event == Deny()
    grave = confirming(stay, Respond())
    assert written(stay, grave, "that is right", 1.0) == Meaning(own="wanted", verdict="rejected")
    assert written(stay, grave, "no", 0.99).event == Deny()
    paused = replace(at(stay, "mat"), mode=Mode.PAUSED)
    assert type(written(stay, paused, "carry on", 0.99).event) is Resume
    assert written(stay, paused, "done", 0.99).own == "wanted"


@pytest.mark.parametrize("mode", [Mode.ALARM, Mode.WAITING, Mode.SUSPENDED, Mode.CLOSED])
def test_where_nothing_may_be_done_by_it_nothing_is(stay: Checklist, mode: Mode) -> None:
    state = replace(at(stay, "mat"), mode=mode, broken="roll" if mode is Mode.ALARM else "")
    for words in ("take it back", "skip this", "done", "it is done", "pause", "carry on"):
        told = written(stay, state, words, 1.0)
        assert told.event in (None, Unclear("unclear"), Unsure(TakeBack())), (words, told)


def test_what_may_mean_that_it_is_done_is_asked_in_the_taught_words_too(stay: Checklist) -> None:
    mat = at(stay, "mat")
    assert written(stay, mat, "yes", 1.0) == Meaning(Unsure(Done()), verdict="asked", said="done")


# --- what a word is, here ----------------------------------------------------------------------

def test_yes_and_no_are_what_is_asked(stay: Checklist) -> None:
    question = at(stay, "water here")
    assert meant(stay, question, "yes").event == Answer(True)
    assert meant(stay, question, "no").event == Answer(False)
    closing = replace(at(stay, ""), mode=Mode.CLOSING)
    assert meant(stay, closing, "yes").event == Answer(True)
    back = confirming(stay, Skip(), "mat")
    assert meant(stay, back, "yes").event == Confirm() and meant(stay, back, "no").event == Deny()


def test_no_to_a_step_that_asks_is_a_problem(stay: Checklist) -> None:
    """It must never pass for a test that was done."""
    steps = {**stay.steps, "breaker": replace(stay.steps["breaker"], do="Is it on?",
                                              remedy="bad outlet")}
    asks = replace(stay, steps=steps, digest="asks")
    assert meant(asks, at(asks, "breaker"), "no").event == Problem()
    assert meant(asks, at(asks, "breaker"), "yes").event == Done()


def test_a_value_is_judged_by_the_limits_of_the_step(stay: Checklist) -> None:
    volts = at(stay, "volts")
    for value, band in ((107, "low"), (108, "within"), (127, "within"), (128, "high")):
        assert judge(Fraction(value), stay, volts) == Read(band)


def test_a_value_that_may_be_two_is_asked_about(stay: Checklist) -> None:
    volts = at(stay, "volts", frozenset({"breaker on"}))
    wrong = meant(stay, volts, "twenty feet")
    assert wrong.own == "other unit" and wrong.verdict == "rejected" and wrong.other_unit == "volts"


def test_a_typed_sentence_may_correct_one_fact_and_is_asked_about(stay: Checklist) -> None:
    mat = at(stay, "mat", frozenset({"chocked"}))
    told = meant(stay, mat, "the wheels are not chocked", engine="keyboard")
    assert told.event == Unsure(Correct("chocked", False)) and told.verdict == "asked"
    assert told.said == "the wheels are not chocked"
    assert meant(stay, mat, "the wheels are not chocked").event == Unclear()
    assert meant(stay, replace(mat, mode=Mode.PAUSED), "the wheels are not chocked",
                 engine="keyboard").event == Unclear()


def test_a_typed_sentence_corrects_nothing_that_only_a_look_can_tell_and_no_two_things(
    stay: Checklist
) -> None:
    mat = at(stay, "mat", frozenset({"chocked"}))
    assert meant(stay, mat, "the wheels are not chocked and the breaker is on",
                 engine="keyboard").event == Unclear()
    assert typed("the brakes were tested").event == Unclear()
    short = meant(stay, mat, "wheels are not chocked", engine="keyboard")
    assert short.event == Unsure(Correct("chocked", False))


SEWER = stay_of(
    (Fact("sewer", Origin.TRAIT), Fact("sewer hose out", Origin.GEAR, says="the sewer hose is out",
                                       otherwise="the sewer hose is in"),
     Fact("water hose out", Origin.GEAR, says="the water hose is out", otherwise="the water hose is in"),
     Fact("braked", says="the brakes were tested", otherwise="the brakes were not tested"),
     Fact("dry", says="die Dry-Box ist zu", otherwise="die Dry-Box ist auf"),
     Fact("valve", says="de klep is open", otherwise="de klep is dicht")),
    (Step("grey", "Connect it.", only_if=parse("sewer"), gives=frozenset({"sewer hose out"})),
     Step("water", "Connect it.", gives=frozenset({"water hose out"})),
     Step("box", "Shut it.", gives=frozenset({"dry", "valve", "braked"}))))


def typed(words: str, *facts: str, language: Language | None = None) -> Meaning:
    return understand(heard(words, engine="keyboard"), SEWER, at(SEWER, "water", frozenset(facts)),
                      Matcher(language or english()), Bands())


def test_the_hose_is_the_only_one_that_this_rig_has() -> None:
    """With two of them it is not guessed which: the wrong one would be driven off with."""
    assert typed("the hose is out").event == Unsure(Correct("water hose out", True))
    assert typed("the hose is out", "sewer").event == Unclear()


def test_a_sentence_is_read_in_the_language_of_the_session() -> None:
    """No English is read into another tongue: "dry", of what was looked at, or a short form."""
    german, dutch = replace(english(), code="de"), replace(english(), code="nl")
    assert typed("die Dry-Box ist zu", language=german).event == Unsure(Correct("dry", True))
    assert typed("de klep is open", language=dutch).event == Unsure(Correct("valve", True))
    assert typed("klep is open", language=dutch).event == Unclear()
    assert typed("the water hose is not out", language=german).event == Unclear()


NOSE = stay_of(
    (Fact("level"),),
    (Step("nose", "Level it.", gives=frozenset({"level"}), reading=Reading("degrees", -2.4, 2.4)),
     Step("blocks", "Measure them.", reading=Reading("inches", 1, 4))),
    numbers={LEVEL_LENGTH: 24.0})


@pytest.mark.parametrize(("step", "words", "band", "value", "unit"), [
    ("nose", "one inch", "within", Fraction(12, 5), "degrees"),  # atan(1 / 24) = 2.386 degrees
    ("nose", "two inches", "high", Fraction(24, 5), "degrees"),  # atan(2 / 24) = 4.764 degrees
    ("nose", "two degrees", "within", Fraction(2), "degrees"),
    ("blocks", "two inches", "within", Fraction(2), "inches")])
def test_an_angle_may_be_told_as_the_inches_under_a_level(
    step: str, words: str, band: str, value: Fraction, unit: str
) -> None:
    """A trailer on a slope that is taken for level rolls off its blocks."""
    told = meant(NOSE, at(NOSE, step), words)
    assert told.event == Read(band) and told.readings == (ReadingSaid(value, unit),)


def test_what_may_mean_that_it_is_done_is_asked_in_those_words(stay: Checklist) -> None:
    assert meant(stay, at(stay, "mat"), "yes") == Meaning(
        Unsure(Done()), verdict="asked", said="done")


def test_what_does_not_count_here_is_told_so_though_doubtful(stay: Checklist) -> None:
    assert meant(stay, hold(stay), "done", 0.6) == Meaning(own="wanted", verdict="rejected")


def test_a_button_where_it_cannot_count_is_told_what_does(stay: Checklist) -> None:
    for state in (hold(stay), replace(at(stay, "mat"), mode=Mode.PAUSED)):
        assert meant(stay, state, "done", engine="keyboard") == Meaning(
            own="wanted", verdict="rejected")


def test_without_noise_a_word_that_was_heard_well_counts(stay: Checklist) -> None:
    assert understand(heard("done"), stay, at(stay, "mat"), Matcher(english()),
                      Bands()).event == Done()


@pytest.mark.parametrize(("step", "words", "told"), [
    ("mat", "take back chocks", Meaning(TakeBack("chock"))),
    ("mat", "note the hose leaks", Meaning(own="note", text="the hose leaks")),
    ("mat", "remind me in ten minutes", Meaning(
        own="remind", readings=(ReadingSaid(Fraction(10), "minutes"),))),
    ("volts", "twelve five", Meaning(own="which number", readings=(
        ReadingSaid(Fraction(125), "volts"), ReadingSaid(Fraction(25, 2), "volts"))))])
def test_what_it_comes_to_is_what_was_said(
    stay: Checklist, step: str, words: str, told: Meaning
) -> None:
    assert replace(meant(stay, at(stay, step), words), said="") == told


def test_what_is_denied_is_denied_in_any_taught_words(stay: Checklist) -> None:
    """Taken for nothing, the wrong value that was read back would still stand there."""
    for words in english().commands["deny"]:
        assert meant(stay, confirming(stay, Read("low"), "volts"), words).event == Deny(), words


def test_what_is_said_in_one_breath_comes_one_after_the_other(stay: Checklist) -> None:
    both = meant(stay, at(stay, "mat"), "done and make a note")
    assert both.event == Done() and both.then == Meaning(own="note")
    assert meant(stay, at(stay, "mat"), english().commands["pause"][0]).event == Pause()


def test_the_second_thing_said_is_kept_while_the_first_is_asked_about(stay: Checklist) -> None:
    """Whoever says yes to "was that: done?" has not said the note again: it would be lost."""
    mat = at(stay, "mat")
    for told in (meant(stay, mat, "done and make a note", 0.7), written(stay, mat, "done and make a note")):
        assert told.event == Unsure(Done()) and told.then == Meaning(own="note")
        assert told.verdict == "asked"


def test_a_hold_points_answer_that_was_only_written_counts_for_nothing_in_one_breath_either(
    stay: Checklist,
) -> None:
    told = written(stay, hold(stay), "chocks set and make a note")
    assert told == Meaning(own="wanted", verdict="rejected")


# --- orders and statements, typed --------------------------------------------------------------

HOSES = stay_of(
    (Fact("water hose out", Origin.GEAR, says="the water hose is out", otherwise="the water hose is in"),
     Fact("sewer hose out", Origin.GEAR, says="the sewer hose is out", otherwise="the sewer hose is in"),
     Fact("sealed", says="the sewer hose is sealed", otherwise="the sewer hose is not sealed"),
     Fact("hitched", says="the trailer is coupled", otherwise="the trailer is free")),
    (Step("water on", "Lay the water hose.", gives=frozenset({"water hose out"})),
     Step("water off", "Roll up the water hose.", ends=frozenset({"water hose out"})),
     Step("sewer", "Lay the sewer hose.", gives=frozenset({"sewer hose out"})),
     Step("sewer again", "Lay it again.", gives=frozenset({"sewer hose out"})),
     Step("drive", "Pull away.", names=("pull away",), ends=frozenset({"hitched"})),
     Step("mat", "Lay the mat out.")))


def ordered(words: str, engine: str = "keyboard", code: str = "en") -> Event | None:
    """What typed words come to at the mat."""
    matcher = Matcher(replace(english(), code=code))
    return understand(heard(words, engine=engine), HOSES, at(HOSES, "mat"), matcher, Bands()).event


@pytest.mark.parametrize(("words", "step"), [
    ("roll out the water hose", "water on"), ("roll up the water hose", "water off"),
    ("please stow the water hose now", "water off"), ("drive off", "drive"), ("pull forward", "drive"),
    ("take me to roll up the water hose", "water off"), ("go to drive off", "drive")])
def test_an_order_goes_to_the_one_step_that_reports_it(words: str, step: str) -> None:
    assert ordered(words) == GoTo(step)
    assert ordered(words, engine="voice") == Unclear()


@pytest.mark.parametrize("words", [
    "roll out the sewer hose",  # two steps do
    "seal the sewer hose",  # none does
    "stow the antenna", "have a nice day"])
def test_an_order_that_names_no_one_step_goes_nowhere(words: str) -> None:
    assert ordered(words) == Unclear()


def test_an_order_is_read_in_the_language_of_the_session() -> None:
    assert ordered("drive off", code="de") == ordered("roll up the water hose", code="de") == Unclear()


AT_HAND = stay_of(
    (Fact("open", says="the hatch is open", otherwise="the hatch is shut"),
     Fact("warm", says="the heater is warm", otherwise="the heater is cold"),
     Fact("full", says="the bucket is full", otherwise="the bucket is empty"),
     Fact("hung", says="the lamp is hung", otherwise="the lamp is down")),
    (Step("hold", "Open the hatch.", respond="swung right back", gives=frozenset({"open"})),
     Step("shut", "Shut the hatch.", respond="down and latched", ends=frozenset({"open"})),
     Step("heat", "Warm it.", gives=frozenset({"warm"})),
     Step("cool", "Cool it.", ends=frozenset({"warm"})),
     Step("fill", "Fill it.", gives=frozenset({"full"}))),
    rules=(NeverRule("burn", parse("warm and hung"), "It burns.", "Cool it."),))


def said_at(step: str, words: str) -> Meaning:
    state = replace(at(AT_HAND, step, frozenset({"hung"})), mode=Mode.STEP if step else Mode.CLOSING)
    return understand(heard(words, engine="keyboard"), AT_HAND, state, Matcher(english()), Bands())


@pytest.mark.parametrize(("step", "words"), [
    ("hold", "the hatch is open"), ("shut", "the hatch is shut"),  # hold points
    ("heat", "the heater is warm"), ("cool", "the heater is cold")])  # a rule hangs on it
def test_what_the_step_at_hand_is_to_be_answered_for_is_no_correction(step: str, words: str) -> None:
    told = said_at(step, words)
    assert (told.event, told.own, told.verdict) == (None, "wanted", "rejected")


@pytest.mark.parametrize(("step", "words", "fact", "so"), [
    ("hold", "the hatch is shut", "open", False), ("shut", "the hatch is open", "open", True),
    ("heat", "the heater is cold", "warm", False), ("cool", "the heater is warm", "warm", True),
    ("heat", "the hatch is open", "open", True),  # another step's
    ("fill", "the bucket is full", "full", True),  # nothing hangs on it
    ("", "the hatch is open", "open", True)])
def test_what_another_step_reports_or_nothing_hangs_on_may_be_corrected(
    step: str, words: str, fact: str, so: bool
) -> None:
    assert said_at(step, words).event == Unsure(Correct(fact, so))


# --- where nothing hangs on it -----------------------------------------------------------------

EASY = stay_of(
    (Fact("lit", says="the lamp is lit", otherwise="the lamp is dark"),),
    (Step("lamp", "Light the lamp.", gives=frozenset({"lit"}), by_heart=True, acts=frozenset({INSIDE})),
     Step("wire", "Hang the wire.", gives=frozenset({"lit"}))))


@pytest.mark.parametrize(("own", "least"), [(0.5, 0.90), (0.80, 0.90), (0.83, 0.93), (0.9, 0.98)])
def test_a_lone_done_needs_less_where_nothing_hangs_on_it_and_never_less_than_an_owners_stricter_bar(
    own: float, least: float
) -> None:
    """0.90 is the least that was measured (`bars`); an owner's stricter threshold adds to it."""
    done, lamp = Meaning(Done()), at(EASY, "lamp")
    assert needed("done", done, EASY, lamp, Bands(own), "en") == pytest.approx(least)
    usual = Bands(max(own, 0.8)).needed("done")
    for text, language, step in (("done", "de", "lamp"), ("done", "", "lamp"), ("finished", "en", "lamp"),
                                 ("done", "en", "wire")):
        assert needed(text, done, EASY, at(EASY, step), Bands(own), language) == usual


def test_it_is_heard_so() -> None:
    lamp, matcher = at(EASY, "lamp"), Matcher(english())
    assert understand(heard("done", 0.90), EASY, lamp, matcher, Bands()).event == Done()
    assert understand(heard("done", 0.89), EASY, lamp, matcher, Bands()).event == Unsure(Done())
    assert understand(heard("done", 0.94), EASY, at(EASY, "wire"), matcher, Bands()).event == Unsure(Done())
    german = Matcher(replace(english(), code="de"))
    assert understand(heard("done", 0.94), EASY, lamp, german, Bands()).event == Unsure(Done())


def test_a_single_word_said_again_confirms_with_the_doubt_that_is_left(stay: Checklist) -> None:
    """Only a word, only a confirmation that "yes" is enough for, and not in a gust."""
    back = confirming(stay, Skip(), "mat")

    def heard_again(state: State, words: str, confidence: float, wary: bool = False) -> Event | None:
        return understand(heard(words, confidence), stay, state, Matcher(english()), Bands(), wary,
                          together=lambda once: 1 - 0.2 * (1 - once)).event

    assert heard_again(back, "yes", 0.75) == Confirm() and meant(stay, back, "yes", 0.75).event == Unsure(Confirm())
    assert heard_again(back, "yes", 0.74) == Unsure(Confirm())
    assert heard_again(back, "that is right", 0.79) == Unsure(Confirm())
    assert heard_again(back, "no", 0.79) == Unsure(Deny())
    assert heard_again(back, "yes", 0.94, wary=True) == Unsure(Confirm())
    assert heard_again(at(stay, "mat"), "done", 0.94) == Unsure(Done())
    for words in ("yes", "confirm", "correct", "affirmative"):
        assert heard_again(confirming(stay, Respond()), words, 0.79) != Confirm(), words
