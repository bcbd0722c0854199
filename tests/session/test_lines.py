"""A journal's lines as types: what is written is read again, and any prefix of them folds to the
state that a replay gives."""

import json
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from handsfree.checklist.model import SIDES, Checklist, Step
from handsfree.engine import state as states
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.review.timings import _HANDLERS, _Tally
from handsfree.session.conversation import Conversation
from handsfree.storage import journal, lines, record
from handsfree.storage.fold import Folded, fold
from handsfree.storage.journal import Journal
from handsfree.storage.journal_recovery import rebuilt, replayable
from handsfree.storage.lines import Amount, Line, Planned, Unknown, from_plain, to_plain
from handsfree.testing import MemoryLog, talk

NAMES = st.text(max_size=6)
WHOLE = st.integers(-2**63, 2**63 - 1)  # RFC 8259, 6: more than that no reader of JSON has to know
VALUES: dict[str, st.SearchStrategy[Any]] = {
    "str": NAMES, "float": st.floats(allow_nan=False, allow_infinity=False), "int": WHOLE,
    "bool": st.booleans(), "frozenset[str]": st.frozensets(NAMES, max_size=3),
    "tuple[str, ...]": st.lists(NAMES, max_size=3).map(tuple),
    "tuple[int, ...]": st.lists(WHOLE, max_size=3).map(tuple),
    "tuple[Planned, ...]": st.lists(st.builds(
        Planned, NAMES, st.integers(0, 9), st.floats(0, 9), st.floats(0, 9), st.booleans()),
        max_size=2).map(tuple),
    "tuple[Line, ...]": st.lists(st.one_of(
        st.builds(lines.Offered, NAMES, NAMES, who=st.sampled_from(["", *SIDES])),
        st.builds(lines.WorkedOut, NAMES, NAMES, NAMES, NAMES, st.just({"a_in": 1.5})),
        st.builds(Unknown, st.just("sung"))),
        max_size=2).map(tuple),
    "Mapping[str, str]": st.dictionaries(NAMES, NAMES, max_size=2),
    "Mapping[str, str | float]": st.dictionaries(NAMES, NAMES | WHOLE, max_size=2),
    "Amount": st.builds(Amount, st.fractions(), NAMES),
    "states.Event | None": st.sampled_from(
        [states.Done(), states.GoTo("x"), states.Unsure(states.Read("low")), states.Answer(True)])}
OF_EVERY = {one.name for one in fields(Line)}


def kind(cls: type[Line]) -> st.SearchStrategy[Line]:
    """Any line of a kind."""
    own: dict[str, st.SearchStrategy[Any]] = {}
    for one in fields(cls):
        if one.name not in OF_EVERY:
            name = str(one.type)
            own[one.name] = VALUES[name] if name in VALUES else st.none() | VALUES[
                name.removesuffix(" | None")]
    return st.builds(cls, **own)


ANY = st.one_of(*(kind(cls) for cls in lines.KINDS.values() if cls is not lines.WorkedOut))
"""Any but that which stands only in another one's `then`: its key "sum" is the line's own sum."""


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(ANY, st.floats(0, 1e6), st.sampled_from(["", *SIDES])), max_size=6))
def test_what_was_written_is_what_is_read(
    tmp_path_factory: pytest.TempPathFactory, told: list[tuple[Line, float, str]]
) -> None:
    path = tmp_path_factory.mktemp("rig") / "a.jsonl"
    log, memory = Journal(path), MemoryLog()
    for line, t, who in told:
        log.write(line, t, who)
        memory.write(line, round(t, 3), who)
    log.close()
    found = journal.read(path)
    assert [replace(line, at="") for line in found.lines] == memory.lines
    assert not found.faults and not found.torn


def test_every_kind_is_known_by_its_name() -> None:
    assert len(lines.KINDS) == len(set(lines.KINDS.values())) >= 30
    assert {cls.kind for cls in Line.__subclasses__()} == {*lines.KINDS, Unknown.kind}


def test_the_first_line_of_what_was_settled_has_the_same_keys_as_any_other() -> None:
    known = {one.name for one in fields(lines.Begun)} - OF_EVERY
    assert set(lines.BegunAside.order) == known - {"operators", "operator"}


@pytest.mark.parametrize(("raw", "line"), [
    ('{"what": "sung", "n": 3, "t": 2.5, "at": "x", "loud": [1]}',
     Unknown("sung", {"loud": [1]}, n=3, t=2.5, at="x")),
    ('{"what": "offered", "step": "chock", "again": "", "colour": "red"}',
     lines.Offered("chock", "")),
    ('{"what": "offered", "step": ["chock"]}', lines.Offered("", "")),
    ('{"what": "changed", "on": ["a"]}', lines.Changed(frozenset({"a"}), frozenset())),
    ('{"what": "event", "event": {"type": "Sung"}, "step": "x"}', lines.Event(None, "x")),
    ('{"what": "event", "event": {"type": "Done"}, "reading": {"value": "1/0"}}',
     lines.Event(None, "")),
    ('{"what": "begun", "plan": [["a", 1, 2, 3], ["b"]], "settled": 5, "rig": 7}',
     lines.Begun("", "", "", "", frozenset(), (Planned("a", 1, 2, 3),)))])
def test_what_another_version_wrote_is_taken_as_far_as_it_is_known(raw: str, line: Line) -> None:
    found = from_plain(json.loads(raw))
    assert found == line
    assert replayable([found]) is not isinstance(found, lines.Event)


class Keys(dict[str, Any]):
    """A line that remembers what is asked of it."""

    def __init__(self, what: str) -> None:
        super().__init__(what=what, n=2, t=1.0, at="")
        self.asked: set[str] = set()

    def get(self, key: str, default: Any = None) -> Any:
        self.asked.add(key)
        return super().get(key, default)


@pytest.mark.parametrize("what", sorted(_HANDLERS))
def test_the_review_reads_only_keys_that_lines_have(what: str) -> None:
    """It reads JSON without making types of it, to be fast."""
    line = Keys(what)
    line["step"] = "chock"
    _Tally({"what": "begun"}).take(line)
    assert line.asked <= {*(one.key for one in lines._KEYS[lines.KINDS[what]]), "n", "t", "at", "what", "who"}


# --- the fold -------------------------------------------------------------------------------------

SAID = {"chock": ("chocks set",), "mat": ("done",), "volts": ("one eighteen",)}
MOVES = ["", "skip", "say again", "hold on", "carry on", "take it back", "take back chocks",
         "go to pull away", "problem", "what is left", "go to the mat", "ninety volts"]


@settings(deadline=None, max_examples=60,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.dictionaries(st.sampled_from(["chock", "mat", "volts", "pull away"]),
                          st.lists(st.sampled_from(MOVES), max_size=4).map(
                              lambda words: tuple(filter(None, words))), max_size=3),
       water=st.booleans(), turns=st.integers(1, 30))
def test_any_prefix_folds_to_the_state_that_a_replay_gives(
    small: Checklist, english: Language, at: dict[str, tuple[str, ...]], water: bool, turns: int
) -> None:
    script = Script(at=at, answers={"water here": water}, readings={"volts": ("one eighteen",)})
    told = talk(small, english, script, turns=turns).log.lines
    begun = told[0]
    assert isinstance(begun, lines.Begun)
    ends = [place for place, line in enumerate(told) if isinstance(line, (lines.Event, lines.Begun))
            ] + [len(told)]
    for end in ends[1:]:
        again = Conversation(small, english, MemoryLog())
        again.replay(begun.record, told[:end])
        state, folded = again.state, rebuilt(small, begun.record, told[:end])
        assert (folded.facts, folded.statuses, folded.tries, folded.reports, folded.waits) == (
            state.facts, state.statuses, state.tries, state.reports, state.waits)
        assert fold(told[:end]).facts == state.facts
        assert (fold(told[:end]).closed is not None) is (state.mode is states.Mode.CLOSED)


def test_a_fold_goes_on_where_another_ended(small: Checklist, english: Language) -> None:
    told = talk(small, english, Script(readings={"volts": ("ninety volts", "one eighteen")})).log.lines
    for cut in range(len(told)):
        assert fold(told[cut:], fold(told[:cut])) == fold(told)
    assert fold([]) == Folded()


def test_reminders_that_were_spoken_are_over() -> None:
    one, two = lines.Reminder("10", "mat"), lines.Reminder("5", "")
    assert fold([one, two, lines.Reminded("10", "mat")]).reminders == [two]
    assert fold([one, one, lines.Reminded("10", "mat")]).reminders == [one]


def test_the_seal_and_the_chain_are_of_the_written_bytes(tmp_path: Path) -> None:
    """A line as version 0.1 wrote it, byte for byte."""
    log = Journal(tmp_path / "a.jsonl")
    failed = lines.Failed("volts", "low", 1, who="inside")
    log.write(lines.Event(states.Read("low"), "volts", None, (failed,)), 1.23456, "outside")
    log.close()
    raw = (tmp_path / "a.jsonl").read_text()
    at = json.loads(raw)["at"]
    assert raw.startswith(
        f'{{"n": 1, "at": "{at}", "t": 1.235, "what": "event", "who": "outside", "event":'
        ' {"type": "Read", "band": "low"}, "step": "volts", "then": [{"what": "failed", "step":'
        ' "volts", "band": "low", "try": 1, "who": "inside"}], "journal": "a", "before": "",'
        ' "sum": "'), raw
    assert to_plain(journal.read(tmp_path / "a.jsonl").lines[0])["who"] == "outside"


def test_a_report_ends_the_wait_of_its_step() -> None:
    begun = lines.Waits("leak check", at="2026-05-01T10:00:00+00:00")
    assert fold([begun]).waits == {"leak check": begun.at}
    assert not fold([begun, lines.Due("leak check")]).waits
    assert not fold([begun, lines.Reported("leak check", "report")]).waits


def test_an_alarm_or_an_offer_opens_what_was_closed() -> None:
    for again in (lines.Alarm("roll"), lines.Offered("chock", "")):
        assert fold([lines.Closed(())]).closed and fold([lines.Closed(()), again]).closed is None


def test_what_a_remedys_step_undoes_is_open_again() -> None:
    steps = {"chock": Step("chock", "", gives=frozenset({"chocked"})),
             "roll": Step("roll", "", ends=frozenset({"chocked"}))}
    checklist = Checklist("x", "", {}, steps, ("chock",))
    told = [lines.Reported("chock", "report"), lines.Reported("roll", "report")]
    folded = fold(told, Folded(checklist))
    assert folded.statuses == {"chock": states.Status.OPEN, "roll": states.Status.DONE}
    assert fold(told).statuses["chock"] is states.Status.DONE, "only a checklist knows that"


def test_the_record_takes_types_for_no_more_than_it_needs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A rig's record is read at every start: what was spoken and heard is no part of it, and to
    make types of it took twice as long as the reading."""
    from benchmarks.simulated_journal import session_lines, write_journal
    from handsfree.review.records import PlanStep
    from tests.review.book import START

    plan = tuple(PlanStep(f"s{n}", 1, 2, 3) for n in range(30))
    path = write_journal(tmp_path, 1, session_lines(plan, [60.0] * 30, began=START), linked=True)
    whole = fold(journal.read(path).lines)
    made: list[str] = []
    typed = journal.from_plain
    monkeypatch.setattr(journal, "from_plain", lambda line: (made.append(line["what"]), typed(line))[1])
    found = record.summary(path)
    assert found and "spoke" not in made and len(made) < len(journal.read(path).raw) / 2
    assert (found.facts, found.known, found.settled, found.last, found.ended) == (
        whole.facts, whole.known | whole.facts, whole.settled, whole.last, True)
