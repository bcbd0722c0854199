"""One conversation: everything that counts is written down before it is answered, and a wrong or
late word does nothing."""

from __future__ import annotations

from fractions import Fraction

import pytest

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Confirm, Correct, Done, Finish, Mode, Pause, Respond, Unsure
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.readings import Reading
from handsfree.session.conversation import Conversation, danger_first
from handsfree.session.wording import Prompt
from handsfree.storage.lines import to_plain
from handsfree.testing import MemoryLog
from tests.core.parts import english

TO_VOLTS = ("yes", "chocks set", "that is right", "done", "done", "done")


class Talk:
    """Words in, words out."""

    def __init__(self, stay: Checklist, record: frozenset[str] | None = None) -> None:
        self.log = MemoryLog()
        self.one = Conversation(stay, english(), self.log)
        self.t = 0.0
        self.first = self.one.begin(stay.start_facts if record is None else record, 0.0)

    def __call__(self, *words: str, confidence: float = 1.0) -> str:
        for said in words:
            self.t += 1.0
            told = self.one.hear(Hypothesis(said, confidence, self.t, self.t), self.t)
        return " ".join(prompt.text for prompt in told)

    def lines(self, what: str) -> list[dict]:  # type: ignore[type-arg]
        return [to_plain(line) for line in self.log.lines if line.what == what]


def test_what_was_reported_is_on_record_with_what_came_of_it(stay: Checklist) -> None:
    talk = Talk(stay)
    talk("yes", "chocks set")
    assert not [line for line in talk.lines("reported") if line["step"] == "chock"]
    talk("that is right")
    last = talk.log.lines[-3:]
    assert {(line.n, line.t) for line in last} == {(talk.log.n, 3.0)}
    assert list(map(to_plain, last)) == [
        {"what": "changed", "on": ["chocked"], "off": []},
        {"what": "reported", "step": "chock", "kind": "report"},
        {"what": "offered", "step": "try them", "again": ""}]


@pytest.mark.parametrize(("words", "line"), [
    (("yes",), {"what": "reported", "step": "water here", "kind": "yes"}),
    (("no",), {"what": "reported", "step": "water here", "kind": "no"}),
    (("yes", "skip this"), {"what": "skipped", "step": "chock"}),
    (("yes", english().commands["pause"][0]), {"what": "paused"}),
    (("yes", english().commands["finish"][0]), {"what": "suspended"}),
    (("yes", "chocks set", "that is right", english().commands["take_back"][0]),
     {"what": "reported", "step": "chock", "kind": "take back"}),
    (("yes", "go to pull away"), {"what": "refused", "step": "pull away", "rule": "roll",
                                  "missing": ["chocked", "tried"], "backstop": False}),
    ((*TO_VOLTS, "one hundred", "that is right"), {"what": "failed", "step": "volts",
                                                   "band": "low", "try": 1}),
    ((*TO_VOLTS, "one hundred twenty", "that is right"), {
        "what": "reading", "step": "volts", "unit": "volts", "value": 120.0, "band": "within"}),
    ((*TO_VOLTS, "one hundred twenty", "that is right", "done"), {"what": "waits",
                                                                  "step": "drip"}),
    ((*TO_VOLTS, "one hundred twenty", "that is right", "done", "done"), {
        "what": "waiting", "steps": ["drip"]}),
])
def test_each_consequence_has_its_line(
    stay: Checklist, words: tuple[str, ...], line: dict[str, object]
) -> None:
    """Resuming, recovery and the review read these: whoever loses one, loses a report."""
    talk = Talk(stay)
    talk(*words)
    assert line in talk.lines(str(line["what"]))


def test_a_danger_is_said_before_the_title(stay: Checklist) -> None:
    talk = Talk(stay, frozenset())
    assert [prompt.key for prompt in talk.first] == ["alarm"]
    assert talk.lines("alarm")[0]["rule"] == "roll"
    assert "Keep clear" in talk("done") and "Keep clear" in talk("yes")
    assert "carrying on" in talk("wheels are chocked", "that is right").lower()
    assert talk.lines("reported")[-1]["kind"] == "resolve"


def test_every_alarm_comes_first() -> None:
    told = danger_first([Prompt("offer", "a"), Prompt("alarm", "b"), Prompt("torn", "c")])
    assert [prompt.key for prompt in told] == ["alarm", "offer", "torn"]


def test_words_to_a_look_that_has_grown_old_do_nothing(stay: Checklist) -> None:
    """What was said was said to something that no longer stands."""
    talk = Talk(stay)
    talk("yes", "chocks set", "that is right", "done")
    assert talk.one.state.at == "pull away"
    talk.t += 31 * 60
    told = talk("done")
    assert "hitched" in talk.one.state.facts and talk.one.state.at == "try them"
    assert "counts" in told
    assert talk.lines("changed")[-1]["off"] == ["tried"]


def test_a_value_that_was_read_out_is_read_back_in_words(stay: Checklist) -> None:
    talk = Talk(stay)
    assert talk(*TO_VOLTS, "one hundred twenty").startswith("One hundred twenty volts.")
    assert talk.one.state.mode is Mode.CONFIRM
    assert "One hundred volts. That outlet is bad." in talk("one hundred", "that is right")


def test_noise_is_written_down_and_answered_with_nothing(stay: Checklist) -> None:
    talk = Talk(stay)
    before = talk.one.state
    for reason in ("noise", "too short"):
        assert talk.one.hear(Rejection(reason, 0.0, 1.0), 1.0) == []  # type: ignore[arg-type]
    assert talk.one.hear(Rejection("unclear", 0.0, 1.0), 1.0)
    assert talk.one.state == before and len(talk.lines("heard")) == 3


def test_a_note_is_about_the_step_at_which_it_was_begun(stay: Checklist) -> None:
    talk = Talk(stay)
    talk("yes", "make a note")
    assert talk.one.noting and talk("done") == "" and talk.one.state.at == "chock"
    talk.one.noted(9.0, "note.wav")
    assert not talk.one.noting
    assert (talk.lines("note")[0]["step"], talk.lines("note")[0]["audio"]) == ("chock", "note.wav")


def test_a_wait_comes_by_itself_once_it_is_over(stay: Checklist) -> None:
    talk = Talk(stay)
    talk(*TO_VOLTS, "one hundred twenty", "that is right", "done", "done")
    assert talk.one.state.mode is Mode.WAITING
    assert talk.one.remind(talk.t + 60) == []
    (offer,) = talk.one.remind(talk.t + 601)
    assert offer.about == "drip" and talk.lines("due")[0]["step"] == "drip"


def test_going_on_voids_a_readback_and_says_the_step_again(stay: Checklist) -> None:
    talk = Talk(stay)
    talk("yes", "chocks set")
    again = Conversation(stay, english(), MemoryLog())
    again.replay(frozenset(stay.start_facts), tuple(talk.log.lines))
    assert again.state == talk.one.state and again.state.pending == Respond()
    told = again.resume(0.0)
    assert again.state.pending is None and again.state.mode is Mode.STEP
    assert told[-1].about == "chock" and "chocked" not in again.state.facts
    assert again.take(Confirm(), 1.0)[0].key == "not now"


def test_a_danger_that_stood_still_stands_on_going_on(stay: Checklist) -> None:
    talk = Talk(stay, frozenset())
    again = Conversation(stay, english(), MemoryLog())
    again.replay(frozenset(), tuple(talk.log.lines))
    assert again.resume(0.0)[0].key == "alarm" and again.state.mode is Mode.ALARM


def test_what_was_read_comes_back_with_the_journal(stay: Checklist) -> None:
    talk = Talk(stay)
    talk(*TO_VOLTS, "one hundred twenty")
    again = Conversation(stay, english(), MemoryLog())
    again.replay(frozenset(stay.start_facts), tuple(talk.log.lines))
    assert again._reading == Reading(Fraction(120), "volts")
    again.take(Confirm(), 0.0)
    assert "outlet good" in again.state.facts


@pytest.mark.parametrize("event", [Pause(), Finish(), Done(), Correct("chocked", True)])
def test_what_is_asked_about_is_named(stay: Checklist, event: object) -> None:
    talk = Talk(stay)
    told = talk.one.take(Unsure(event), 1.0, said="those words")  # type: ignore[arg-type]
    assert "those words" in told[0].text and talk.one.state.mode is Mode.CONFIRM
