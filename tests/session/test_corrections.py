"""What people say is different about a rig is written down as they meant it, or refused."""

import json
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.cli import main
from handsfree.engine import changes
from handsfree.language import statements
from handsfree.language.statements import Clauses, Statement, is_evidence, understand
from handsfree.session.correctable import tellable, told_back
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import latest, rig_folder

HERE = Path(__file__).parent
DATA = yaml.safe_load((Path(statements.__file__).parents[1] / "languages" / "en.facts.yaml")
                      .read_text("utf-8"))


def phrasings(name: str) -> list[tuple[str, str, dict[str, bool]]]:
    """(writer, words, what they mean; nothing where they must be refused)."""
    found, writer = [], ""
    for line in (HERE / name).read_text("utf-8").splitlines():
        if line.startswith("["):
            writer = line.strip("[]")
        elif "=>" in line and not line.startswith("#"):
            words, _, meaning = (part.strip() for part in line.partition("=>"))
            told = [] if meaning == "?" else [one.strip() for one in meaning.split(",")]
            found.append((writer, words, {one.rpartition(" ")[0]: one.endswith(" yes")
                                          for one in told}))
    return found


@pytest.fixture(scope="module")
def library() -> list[Checklist]:
    return [load_checklist(path, library=checklists_folder())
            for path in sorted(checklists_folder().glob("*.yaml"))]


@pytest.fixture(scope="module")
def everything(library: list[Checklist]) -> dict[str, Clauses]:
    """Every fact, as on a rig that has each part there is."""
    return {name: Clauses(fact.says, fact.otherwise) for one in library
            for name, fact in one.facts.items() if name in changes.correctable(one)}


def test_the_set_is_large_and_of_every_kind() -> None:
    lines = phrasings("corrections.txt")
    assert len({words for _, words, _ in lines}) >= 400
    assert {writer for writer, _, _ in lines} >= {
        "terse", "chatty", "trade words", "negations", "several", "must be refused"}
    assert sum(not meaning for _, _, meaning in lines) >= 100


def test_every_phrasing_is_taken_as_it_was_meant(everything: dict[str, Clauses]) -> None:
    lines = phrasings("corrections.txt")
    assert all(fact in everything for _, _, meaning in lines for fact in meaning)
    wrong = [(words, meaning, dict(got.facts) or got.why) for _, words, meaning in lines
             if dict((got := understand(words, everything)).facts) != meaning]
    assert not wrong


def test_held_out_phrasings_are_refused_rather_than_taken_wrongly(
    everything: dict[str, Clauses]
) -> None:
    """Looked at once, after the grammar was built, and not built for: 122 of 127 as meant, four
    refused, one taken that was to be refused ("the sway bar never went on").  One writer wrote both
    sets."""
    lines = phrasings("corrections-held-out.txt")
    taken = [(meaning, dict(understand(words, everything).facts)) for _, words, meaning in lines]
    assert len(taken) >= 100
    assert sum(meaning == got for meaning, got in taken) >= 122
    assert not [one for one in taken if one[0] and one[1] and one[0] != one[1]]
    assert sum(not meaning and bool(got) for meaning, got in taken) <= 1


def test_other_tempers_are_refused_rather_than_taken_wrongly(
    everything: dict[str, Clauses]
) -> None:
    """Written after the grammar: at first sight 36 of 59 as meant, 22 refused that could be
    understood, one taken that was to be refused; since learned from."""
    taken = [(meaning, dict(understand(words, everything).facts))
             for _, words, meaning in phrasings("corrections-second.txt")]
    assert sum(meaning == got for meaning, got in taken) >= 54
    assert not [one for one in taken if one[0] and one[1] and one[0] != one[1]]


@pytest.mark.parametrize("writer", ("terse", "chatty", "trade words", "negations", "several"))
def test_an_unknown_word_anywhere_is_never_guessed_around(
    writer: str, everything: dict[str, Clauses]
) -> None:
    for _, words, meaning in phrasings("corrections.txt"):
        if not meaning:
            continue
        pieces = words.split()
        for at in (0, len(pieces) // 2, len(pieces)):
            odd = " ".join([*pieces[:at], "grommet", *pieces[at:]])
            assert not understand(odd, everything).facts, odd
        assert not understand(f"{words}?", everything).facts, words


def test_a_fact_can_be_said_in_the_records_own_words(everything: dict[str, Clauses]) -> None:
    told = [(fact, so) for fact in everything for so in (True, False)]
    same = {clause for fact, so in told if sum(
        everything[f].of(s) == (clause := everything[fact].of(so)) for f, s in told) > 1}
    assert len(same) <= 4
    for fact, so in told:
        clause = everything[fact].of(so)
        if clause not in same:
            assert understand(clause, everything) == Statement({fact: so}), clause


def test_not_is_the_contrary_of_the_same_words_or_refused(everything: dict[str, Clauses]) -> None:
    tried = 0
    for thing in DATA["things"]:
        kind = DATA["kinds"].get(thing.get("kind"), {})
        name = thing["names"][0]
        for way in (way for row in (kind, thing) for key in ("so", "not so")
                    for way in row.get(key, ())):
            phrase = " ".join(word.split("/")[0] for word in DATA["ways"][way][0].split())
            plain = understand(f"the {name} is {phrase}", everything)
            contrary = understand(f"the {name} is not {phrase}", everything)
            assert plain.facts or "fact" not in thing, (name, phrase)
            if contrary.facts:
                tried += 1
                assert dict(contrary.facts) == {f: not so for f, so in plain.facts.items()}
            for unsure in (f"is the {name} {phrase}", f"the {name} will be {phrase}",
                           f"the {name} might be {phrase}", f"one {name} is {phrase}"):
                assert not understand(unsure, everything).facts, unsure
    assert tried > 200


@given(st.lists(st.sampled_from(
    ["awning", "step", "gas", "black valve", "in", "out", "not", "and", "took", "closed", "the", "is",
     "open", "off", ",", "but", "I", "it", "so is", "never", "slide", "up", "hose", "forgot to"]),
    max_size=9))
def test_no_string_of_words_ends_in_an_error(words: list[str]) -> None:
    clauses = {"awning out": Clauses("the awning is out", "the awning is in"),
               "gas open": Clauses("the gas is open", "the gas is shut")}
    got = understand(" ".join(words), clauses)
    assert bool(got.facts) is not bool(got.why)
    assert got.facts.keys() <= clauses.keys()


def test_the_data_names_only_what_there_is(library: list[Checklist]) -> None:
    facts = {name for one in library for name in one.facts}
    for thing in DATA["things"]:
        assert thing.get("fact") is None or thing["fact"] in facts, thing
        assert thing.get("kind") is None or thing["kind"] in DATA["kinds"], thing
    rows = [*DATA["kinds"].values(), *DATA["things"]]
    assert {way for row in rows for key in ("so", "not so") for way in row.get(key, ())} <= {
        *DATA["ways"]}
    names = {name for thing in DATA["things"] for name in thing["names"]}
    assert {one for some in DATA["unclear"].values() for one in some} <= names
    assert not names & DATA["unclear"].keys()
    words = {word for name in names for word in name.lower().split()}
    assert not words & {word for some in DATA["refused"].values() for word in some}


# --- one rig ------------------------------------------------------------------------------------

def test_what_a_rig_has_only_one_of_needs_no_more_words(library: list[Checklist]) -> None:
    small = tellable(library, load_rig(checklists_folder() / "rigs" / "small-single.yaml").has)
    assert understand("the hose is stowed", small).facts == {"water hose out": False}
    assert not understand("the sewer hose is stowed", small).facts
    whole = tellable(library, load_rig(checklists_folder() / "rigs" / "tandem-slide.yaml").has)
    unclear = understand("the hose is stowed", whole)
    assert not unclear.facts and unclear.choices == ("water hose", "sewer hose")


def test_an_owners_own_facts_are_understood_by_their_clauses() -> None:
    own = {"kayak": Clauses("the kayak is lashed down", "the kayak is loose"),
           "dog out out": Clauses("the dog lead is out", "the dog lead is stowed")}
    assert understand("the kayak is loose", own).facts == {"kayak": False}
    assert understand("the kayak is not lashed down", own).facts == {"kayak": False}
    assert understand("kayak lashed down and dog lead stowed", own).facts == {
        "kayak": True, "dog out out": False}
    assert not understand("the kayak is wet", own).facts


def test_a_language_without_data_understands_whole_clauses_only() -> None:
    own = {"step": Clauses("die Stufe ist draußen", "die Stufe ist drin")}
    assert understand("Die Stufe ist drin.", own, "de").facts == {"step": False}
    assert not understand("Stufe rein", own, "de").facts
    assert not is_evidence("der Druck wurde gemessen", "de")


# --- the command --------------------------------------------------------------------------------

TANDEM = ("rig", "--rig", "tandem-slide")


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    return tmp_path


def asked(*words: str, said: str = "") -> Result:
    return CliRunner().invoke(main, [*TANDEM, *words], input=said)


def on_record(data: Path) -> frozenset[str]:
    last = latest(rig_folder(data, "Tandem trailer with a slide-out"))
    return last.facts if last else frozenset()


def journals(data: Path) -> list[dict]:
    return [json.loads(line) for path in sorted(data.glob("rigs/*/sessions/*.jsonl"))
            for line in path.read_text("utf-8").splitlines()]


def test_several_facts_are_read_back_and_written_as_one_correction(data: Path) -> None:
    assert asked("change", "--yes", "put the awning and the step out").exit_code == 1  # hitched
    assert on_record(data) >= {"awning out", "entry step out"}
    done = asked("change", "took in the awning and the step", said="y\n")
    assert done.exit_code == 0, done.output
    assert "For the record: the awning is in; the step is in?" in done.output
    assert "Recorded: the awning is in." in done.output
    assert not on_record(data) & {"awning out", "entry step out"}
    assert len(list(data.glob("rigs/*/sessions/*.jsonl"))) == 2


def test_no_means_nothing_is_written(data: Path) -> None:
    assert asked("change", "propane on", said="n\n").exit_code == 1
    assert not journals(data)


@pytest.mark.parametrize(("words", "why"), (
    ("the hose is out", "the water hose or the sewer hose"),
    ("turn off the gas", "plan or an order"), ("is the gas off", "question"),
    ("I think the gas is off", "look first"), ("the awning is torn", "torn")))
def test_yes_never_writes_a_guess(words: str, why: str, data: Path) -> None:
    done = asked("change", "--yes", words)
    assert done.exit_code == 2 and why in done.output and done.output.count("\n") == 1
    assert not journals(data)


@pytest.mark.parametrize(("command", "said"), (
    (("set", "outlet good", "yes"), ""), (("set", "outlet good", "yes"), "n\n"),
    (("change", "--yes", "the outlet passed its test"), ""),
    (("set", "coupling unproved", "no"), "n\n")))
def test_evidence_is_not_put_on_record_unasked(
    command: tuple[str, ...], said: str, data: Path
) -> None:
    assert asked("set", "coupling unproved", "yes").exit_code in (0, 1)
    before = journals(data)
    done = asked(*command, said=said)
    assert done.exit_code == 1 and "Careful" in done.output, done.output
    assert journals(data) == before


def test_evidence_is_taken_from_who_has_looked(data: Path) -> None:
    done = asked("set", "outlet good", "yes", said="y\n")
    assert done.exit_code == 0 and "outlet good" in on_record(data), done.output
    assert asked("set", "outlet good", "no").exit_code == 0  # no caution: it makes nothing possible
    assert "outlet good" not in on_record(data)


def test_the_read_back_is_the_changed_fact() -> None:
    clauses = {"step": Clauses("the step is out", "the step is in"), "x": Clauses("it is so")}
    assert told_back({"step": False, "x": False}, clauses) == (
        "the step is in; it is not true that it is so")
