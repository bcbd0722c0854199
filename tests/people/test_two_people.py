"""Two operators: each their own steps at once, both at what takes two, on one microphone or two."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import INSIDE, OUTSIDE, SIDES, Checklist
from handsfree.cli.wiring import sounds
from handsfree.crew.crew import Crew
from handsfree.crew.shared_microphone import SharedMicrophone
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.loader import language_names, load_language
from handsfree.rehearsal.rehearsal import Stage, rehearse_together
from handsfree.rehearsal.script import Script
from handsfree.review.timings import read_session
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.storage import journal
from handsfree.testing import MemoryLog

LIST = """\
title: Small stay
facts:
  chocked: the wheels are chocked
  slide out: the slide is out
  beside clear: it is clear beside the slide
steps:
  - {id: chock, do: Chock both wheels., role: outside, respond: chocks set, gives: chocked}
  - {id: vents, do: Open the vents., role: inside}
  - {id: look, do: Look beside the slide., role: outside, gives: beside clear, needs: chocked}
  - {id: slide, do: Run the slide out., role: both, needs: [chocked, beside clear],
     gives: slide out}
  - {id: level, do: "Read the level.", role: inside, needs: slide out,
     reading: {of: degrees, between: [-1, 1]}}
"""


@pytest.fixture
def small(tmp_path: Path) -> Checklist:
    path = tmp_path / "small.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


def crew(small: Checklist, *, calls: bool = False) -> Crew:
    both = Crew(small, load_language("en"), MemoryLog(), calls=calls)
    both.lead.begin(small.start_facts, 0.0, known=frozenset())
    return both


def say(both: Crew, side: str, words: str) -> str:
    one = both.partners[side]
    return " | ".join(p.text for p in one.hear(Hypothesis(words, 1.0, 0.0, 1.0), 1.0))


def mail(both: Crew, side: str) -> str:
    return " | ".join(p.text for p in both.partners[side].remind(2.0))


def test_each_hears_their_own_steps_and_both_the_one_for_both(small: Checklist) -> None:
    both = crew(small)
    assert "Open the vents." in mail(both, INSIDE)
    assert "Nothing for you" in say(both, INSIDE, "done")
    say(both, OUTSIDE, "chocks set")
    assert "Look beside" in say(both, OUTSIDE, "that is right")
    assert "Run the slide out" in say(both, OUTSIDE, "done")
    assert "Run the slide out" in mail(both, INSIDE)
    assert "Waiting for your partner" in say(both, INSIDE, "done")
    assert "Nothing for you" in say(both, OUTSIDE, "done")
    assert "Read the level" in mail(both, INSIDE)
    say(both, INSIDE, "zero degrees")
    assert "complete" in say(both, INSIDE, "that is right")
    assert not both.lead.over, "it has not been told yet"
    assert "complete" in mail(both, OUTSIDE)
    assert all(one.over for one in both.partners.values())


def test_what_is_said_before_the_mail_was_read_out_does_not_count(small: Checklist) -> None:
    both = crew(small)
    mail(both, INSIDE)
    say(both, INSIDE, "done")
    for words in ("chocks set", "that is right", "done"):
        say(both, OUTSIDE, words)
    facts = both.both.of(INSIDE).facts
    assert "Run the slide out" in say(both, INSIDE, "done"), "an old done, for the vents perhaps"
    assert both.both.of(INSIDE).facts == facts and not both.both.answered


def test_taking_back_means_ones_own_last_report(small: Checklist) -> None:
    both = crew(small)
    mail(both, INSIDE)
    say(both, OUTSIDE, "chocks set")
    say(both, OUTSIDE, "that is right")
    say(both, INSIDE, "done")
    assert "Chock" not in say(both, INSIDE, "take it back")
    assert "chocked" in both.both.of(INSIDE).facts


def test_the_journal_brings_both_back_and_tells_their_times_apart(small: Checklist) -> None:
    both = crew(small)
    mail(both, INSIDE)
    say(both, INSIDE, "done")
    say(both, OUTSIDE, "chocks set")
    say(both, OUTSIDE, "that is right")
    log = both.lead._log.log
    assert isinstance(log, MemoryLog)
    again = Crew(small, load_language("en"), MemoryLog())
    again.lead.replay(small.start_facts, tuple(log.lines))
    assert again.both == both.both
    assert "Look beside" in " ".join(p.text for p in again.lead.resume(9.0))
    assert {line.who for line in log.lines if line.what == "event"} == set(SIDES)


OTHER = """\
title: One waits for the other
facts: {tap open: the tap is open, looked: it was looked at}
limits:
  latitude: {default: 52, unit: degrees}
  longitude: {default: 5, unit: degrees}
steps:
  - {id: tap, do: Open the tap., role: outside, gives: tap open}
  - {id: joints, do: Feel the joints inside., role: inside, needs: tap open,
     waits: {after: tap, minutes: 10}}
  - {id: lamps, do: Lamps at hand., role: inside, needs: looked, sum: dusk}
  - {id: look, do: Look at the sky., role: outside, needs: tap open, gives: looked}
"""


def test_what_the_other_ones_word_brings_is_worked_out_and_told_where_it_belongs(
    tmp_path: Path,
) -> None:
    path = tmp_path / "other.yaml"
    path.write_text(OTHER, encoding="utf-8")
    checklist = load_checklist(path)
    now = datetime(2026, 6, 1, 12, tzinfo=UTC)
    log = MemoryLog()
    both = Crew(checklist, load_language("en"), log,
                {side: {"now": lambda: now} for side in SIDES})
    both.lead.begin(checklist.start_facts, 0.0, known=frozenset())
    mail(both, INSIDE)
    assert "sky" in say(both, OUTSIDE, "done")
    later = both.partners[INSIDE].remind(1.0 + 5 * 60)
    assert "five minutes" in " ".join(p.text for p in later), "what is left when it is told"
    said = say(both, OUTSIDE, "done")
    assert "dark" not in said.lower() and "light" not in said.lower()
    told = mail(both, INSIDE)
    assert told.index("ark") < told.index("Lamps"), told
    (line,) = [line for line in log.lines if line.what == "worked out"]
    assert (line.step, line.who) == ("lamps", INSIDE)


def one_ear(small: Checklist) -> SharedMicrophone:
    return SharedMicrophone(crew(small, calls=True))


def hear(ear: SharedMicrophone, words: str, confidence: float = 1.0) -> str:
    spoken = ear.hear(Hypothesis(words, confidence, 0.0, 1.0), 1.0)
    return " | ".join(p.text or f"({p.tone})" for p in spoken)


def test_on_one_microphone_who_speaks_says_their_side(small: Checklist) -> None:
    ear = one_ear(small)
    assert [p.text for p in ear.remind(0.5)][0] == "Inside."
    moment = ear.moment
    assert {"outside chocks set", "inside done", "outside", "inside"} <= ear.grammar().phrases
    assert "done" not in ear.grammar().phrases and "chocks set" not in ear.grammar().phrases
    assert "Say outside or inside first" in hear(ear, "chocks set")
    assert ear.state.mode.value == "step" and ear.moment is moment
    assert "Chocks set. Is that right?" in hear(ear, "outside chocks set")
    assert "Nothing for you" in hear(ear, "inside done")
    assert ear.moment is not moment
    assert hear(ear, "outside") == "(listening)"
    assert "that is right" in ear.grammar().phrases, "the side alone: the next words are its own"
    assert "Look beside" in hear(ear, "that is right")
    assert "that is right" not in ear.grammar().phrases


def test_a_reading_follows_the_side_said_alone(small: Checklist) -> None:
    ear = one_ear(small)
    ear.remind(0.5)
    for words in ("inside done", "outside chocks set", "outside that is right", "outside done"):
        hear(ear, words)
        ear.remind(0.6)
    hear(ear, "inside done")
    hear(ear, "outside done")
    ear.remind(0.7)
    hear(ear, "inside")
    assert ear.grammar().numbers
    assert "zero degrees" in hear(ear, "zero degrees").lower()
    hear(ear, "inside that is right")
    ear.remind(0.8)
    assert ear.over


def test_noise_is_answered_as_it_is_for_one(small: Checklist) -> None:
    ear = one_ear(small)
    ear.remind(0.5)
    assert ear.hear(Rejection("noise", 0.0, 1.0), 1.0) == []
    assert "unclear" in [p.key for p in ear.hear(Rejection("unclear", 0.0, 1.0), 1.0)]


def test_a_note_may_be_typed_on_one_microphone_for_two(small: Checklist) -> None:
    """The loop once forgot whose note it was before it was kept, and ended the session."""
    ear = one_ear(small)
    ear.remind(0.5)
    hear(ear, "inside make a note")
    assert ear.noting
    assert [p.text for p in ear.typed("the left lamp is cracked", 2.0)][-1] == "Saved."
    assert not ear.noting and not ear.typed("once more", 3.0)


def test_every_language_has_the_names_of_the_sides() -> None:
    for code in language_names():
        templates = load_language(code).templates
        assert templates["side.outside"] != templates["side.inside"]


def test_two_voices_through_two_real_recognisers(small: Checklist, tmp_path: Path) -> None:
    """Audio time, two microphones; the journal is read again, replayed and reviewed."""
    language = load_language("en")
    log = journal.Journal(tmp_path / "000001-small.jsonl")
    with (sounds(language, tmp_path) as prompts,
          OperatorVoice("en-us", "m3", 150) as man, OperatorVoice("en-us", "f2", 150) as woman):
        recognisers = {side: open_recogniser("own", "en", None, language.pronunciations)
                       for side in SIDES}
        done = rehearse_together(
            {OUTSIDE: Stage(Script(), Listener(recognisers[OUTSIDE]), man),
             INSIDE: Stage(Script(), Listener(recognisers[INSIDE]), woman)},
            small, language, sounds=prompts, log=log,
            begin=lambda conversation, t: conversation.begin(small.start_facts, t, known=frozenset()),
            say=prompts.speakable)
    log.close()
    for rehearsed, air in done.values():
        assert rehearsed.conversation.over and not rehearsed.baffled
        assert len(air.recording()[0]) > 16_000
    said = {side: [turn.text for turn in rehearsed.turns if turn.who == f"{side} operator"]
            for side, (rehearsed, _) in done.items()}
    assert said[OUTSIDE] == ["chocks set", "that is right", "done", "done"]
    assert said[INSIDE][:2] == ["done", "done"] and len(said[INSIDE]) == 4
    lines = journal.read(tmp_path / "000001-small.jsonl").lines
    again = Crew(small, language, MemoryLog())
    again.lead.replay(small.start_facts, lines)
    assert "slide out" in again.both.of(INSIDE).facts
    review, problems = read_session(tmp_path / "000001-small.jsonl")
    assert not problems and review.closed
    begun = {visit.step: visit for visit in review.visits}
    assert begun["chock"].begin < begun["vents"].end and begun["vents"].begin < begun["chock"].end
