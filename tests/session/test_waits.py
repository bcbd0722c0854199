"""Waiting steps in a conversation: told, called for by name, found again after a dead battery."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Mode
from handsfree.errors import AuthorError
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import language_names, load_language
from handsfree.language.model import Language
from handsfree.review.timings import record
from handsfree.session.conversation import Conversation
from handsfree.session.expecting import expected
from handsfree.session.opening import go_on, start_new
from handsfree.session.waits import Waits
from handsfree.storage import journal
from handsfree.storage.journal_recovery import rebuilt
from handsfree.storage.lines import to_plain
from handsfree.testing import MemoryLog, talk

TEXT = """\
title: Water
closing: Dry.
facts: {open: the tap is open, tight: the hose is tight}
steps:
  - {id: tap, do: Open the tap., only if: not open, gives: open}
  - {id: joints, do: Feel the joints., needs: open, gives: tight, respond: joints are dry}
  - {id: joints-again, do: Feel them once more., names: [leak check],
     waits: {after: joints, minutes: 10}}
  - {id: mat, do: Lay out the mat.}
  - {id: chock, do: Look at the chocks., respond: chocks are set}
"""
NOW = datetime(2026, 5, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def water(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "water.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return load_checklist(path)


class Talk:
    """Words in, words out, at times in minutes."""

    def __init__(self, checklist: Checklist, language: Language) -> None:
        self.log = MemoryLog()
        self.conversation = Conversation(checklist, language, self.log)
        self.conversation.begin(checklist.start_facts, 0.0)

    def __call__(self, *words: str, minute: float) -> str:
        said = ""
        for one in words:
            t = minute * 60
            prompts = self.conversation.hear(Hypothesis(one, 1.0, t, t), t)
            said = " | ".join(prompt.text for prompt in prompts)
        return said

    def quiet(self, minute: float) -> str:
        return " | ".join(p.text for p in self.conversation.remind(minute * 60))


@pytest.fixture
def felt(water: Checklist, english: Language) -> Talk:
    """The joints were felt at minute 1; the mat waits."""
    told = Talk(water, english)
    said = told("done", "joints are dry", "that is right", minute=1)
    assert said.endswith("Leak check in ten minutes. | Lay out the mat.")
    return told


def test_it_speaks_up_when_it_is_due_and_comes_next(felt: Talk) -> None:
    assert felt.quiet(10.9) == ""
    assert felt.quiet(11.1) == "Leak check is due. It comes next."
    assert felt.quiet(11.2) == ""
    assert felt("done", minute=12) == " | It is time. Feel them once more."


def test_at_a_hold_point_and_within_a_readback_it_waits_silently(felt: Talk) -> None:
    felt("done", minute=2)
    assert felt.quiet(12) == ""
    felt("chocks are set", minute=13)
    assert felt.quiet(13) == ""
    assert felt("that is right", minute=14).endswith("It is time. Feel them once more.")


def test_it_is_called_for_by_name_with_the_minutes_still_to_go(felt: Talk) -> None:
    assert felt("leak check now", minute=4.5) == (
        "You are early by seven minutes. | Feel them once more.")
    assert felt("done", minute=5).endswith("Lay out the mat.")
    assert felt.quiet(60) == ""
    expects = expected(felt.conversation.checklist, felt.conversation.state)
    assert not expects.waits, "it is done"


def test_now_is_no_word_at_a_hold_point_nor_before_the_wait(
    water: Checklist, english: Language
) -> None:
    told = Talk(water, english)
    assert "leak check now" not in told.conversation.matcher.phrases(
        expected(water, told.conversation.state)), "not listened for; typed it is an order to go there"
    told("done", "joints are dry", "that is right", "done", minute=1)
    assert told.conversation.state.at == "chock"
    assert "leak check now" not in told.conversation.matcher.phrases(
        expected(water, told.conversation.state))
    assert told("go to leak check", minute=2).startswith("You are early by nine minutes.")


def test_what_is_left_names_it_with_its_time(felt: Talk) -> None:
    assert felt("what is left", minute=3).endswith("| Waiting: leak check in eight minutes.")
    assert felt("where are we", minute=10.5).endswith("| Waiting: leak check in one minute.")


def test_when_nothing_else_is_left_it_says_what_it_waits_for_and_stays(felt: Talk) -> None:
    said = felt("done", "chocks are set", "that is right", minute=4)
    assert said.endswith("Leak check in seven minutes. Nothing to do until then. I will let you know."
                         " Or say skip this.")
    assert felt.quiet(6) == "" and not felt.conversation.over
    assert felt("done", minute=6) == (
        "Leak check in five minutes. Nothing to do until then. I will let you know. Or say skip this.")
    assert felt("remind me in one minute", minute=6) == "In one minute."
    assert felt.quiet(7.1).startswith("Your reminder, set at Water.")
    assert felt.quiet(11) == "It is time. Feel them once more."
    assert felt("done", minute=12).endswith("Water: complete. Dry.")


def test_the_review_does_not_count_the_wait_as_work(felt: Talk) -> None:
    felt("done", "chocks are set", "that is right", minute=4)
    felt.quiet(11)
    felt("done", minute=12)
    made = record({"n": number, "t": line.t, "at": (NOW + timedelta(seconds=line.t)).isoformat(),
                   **to_plain(line)} for number, line in enumerate(felt.log.lines))
    seconds = {step.step: step.active for step in made.steps}
    assert seconds["joints-again"] == pytest.approx(60, abs=1)
    assert made.away == pytest.approx(7 * 60, abs=1)
    assert made.seconds == pytest.approx(5 * 60, abs=1)


def test_minutes_with_a_dead_battery_count(
    water: Checklist, english: Language, felt: Talk
) -> None:
    lines = tuple(replace(line, at=(NOW + timedelta(seconds=line.t)).isoformat())
                  for line in felt.log.lines)
    for minutes, left in ((4, 7), (11.5, 0), (-90, 10), (600, 0)):
        again = Conversation(water, english, MemoryLog())
        now = NOW + timedelta(minutes=minutes) if minutes > 0 else NOW - timedelta(minutes=90)
        again.replay(water.start_facts, lines, 5.0, now)
        assert again.state == felt.conversation.state
        assert again.waits.left("joints-again", 5.0) == pytest.approx(left)
        again.resume(5.0)
        assert bool(again.remind(6.0)) is (left == 0)


def test_in_a_real_journal_the_wall_clock_is_what_counts(
    water: Checklist, english: Language, tmp_path: Path
) -> None:
    started = start_new(water, Rig("r"), tmp_path, {})
    one = Conversation(water, english, started.log)
    started.begin(one, 0.0, started.log)
    for words in ("done", "joints are dry", "that is right"):
        one.hear(Hypothesis(words, 1.0, 0.0, 1.0), 1.0)
    started.log.close()
    started = go_on(water, tmp_path)
    two = Conversation(water, english, started.log)
    started.begin(two, 0.0, started.log)
    assert two.state.waits == {"joints-again"}
    assert 9.9 < two.waits.left("joints-again", 0.0) <= 10
    started.log.close()
    lines = journal.read(started.log.path).lines
    state = rebuilt(water, water.start_facts, lines)
    assert state.waits == {"joints-again"}, "also where the journal is damaged"


def test_a_rehearsed_operator_does_not_wait(water: Checklist, english: Language) -> None:
    told = talk(water, english)
    assert told.conversation.state.mode is Mode.CLOSED
    assert "leak check now" in told.words_of("operator")


def test_times_are_kept_by_step() -> None:
    waits = Waits({"a": 10, "b": 1})
    waits.begin("a", 0)
    waits.begin("b", 30)
    assert waits.over(89, {"a", "b"}) == ""
    assert waits.over(90, {"a", "b"}) == "b" and waits.over(90, {"a"}) == ""
    assert waits.over(0, {"c"}) == "c", "its beginning is not known: at once"
    waits.begin("b", 590)
    assert waits.over(700, {"a", "b"}) == "a", "the longest over first"


@pytest.mark.parametrize("code", language_names())
def test_every_language_tells_how_long(code: str, water: Checklist) -> None:
    told = Talk(water, load_language(code))
    words = [told.conversation.wording.lasting(minutes) for minutes in (0, 1, 1.2, 119, 240, 270)]
    assert len(set(words)) == 5 and words[0] == words[1]
    if code == "en":
        assert words[1:] == ["one minute", "two minutes", "one hundred nineteen minutes",
                             "four hours", "four and a half hours"]


@pytest.mark.parametrize(("change", "said"), (
    (("after: joints, ", "after: joint, "),
     "'joints-again' waits for 'joint', which is no step of this checklist (did you mean"
     " 'joints'?)"),
    (("after: joints, ", "after: mat, "), "which comes no earlier"),
    (("after: joints, ", "after: joints-again, "), "which comes no earlier"),
    (("minutes: 10", "minutes: 0"), "a wait of 0 minutes is not possible"),
    (("minutes: 10", "minutes: 4000"), "at most 2880 (two days)"),
    (("minutes: 10", "minutes: soon"), "'soon' is not a number"),
    (("after: joints, ", ""), "'after' is missing"),
    (("minutes: 10", "hours: 10"), "'hours' is not a key"),
))
def test_what_cannot_be_waited_for_is_named_by_line(
    change: tuple[str, str], said: str, tmp_path: Path
) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(TEXT.replace(*change), encoding="utf-8")
    with pytest.raises(AuthorError, match=r"bad.yaml, line [678]: ") as caught:
        load_checklist(path)
    assert said in str(caught.value)


def test_a_remedys_step_cannot_wait(tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(TEXT + """\
  - {id: last, do: Last., if it fails: mend}
remedies:
  mend:
    says: Mend it.
    steps:
      - {id: cool, do: Let it cool., waits: {after: tap, minutes: 5}}
    gives up: {says: Leave it.}
""", encoding="utf-8")
    with pytest.raises(AuthorError, match="'cool' belongs to a remedy and cannot wait"):
        load_checklist(path)
