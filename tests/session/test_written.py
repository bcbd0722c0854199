"""What the engine writes down freely is answered or asked about; done only where it is harmless and sure."""

from __future__ import annotations

import pytest

from handsfree.checklist.model import Checklist
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.testing import MemoryLog
from tests.session.wordings import outcome, sentences

AT = {"question": (), "hold": ("no",), "confirm": ("no", "chocks set"),
      "step": ("no", "chocks set", "that is right"),
      "reading": ("no", "chocks set", "that is right", "done")}


def at(small: Checklist, english: Language, moment: str) -> Conversation:
    talk = Conversation(small, english, MemoryLog())
    talk.begin(small.start_facts, 0.0)
    for words in AT[moment]:
        talk.hear(Hypothesis(words, 1.0, 0.0, 0.0), 0.0)
    return talk


@pytest.mark.parametrize(("moment", "words", "answer"), [
    ("step", "okay that's done", "Did you say: done?"),
    ("step", "sorry, what was that", "Pull the truck away"),
    ("step", "skip that one for now", "Did you say: skip this?"),
    ("step", "the weather is nice", "I did not catch that."),
    ("hold", "um the chocks are set", "I need to hear: chocks set."),
    ("hold", "done", "I need to hear: chocks set."),
    ("hold", "could you say that again", "Chock both wheels."),
    ("confirm", "yes that's right", "First say:"),
    ("reading", "it says 118", "I did not catch that."),
    ("reading", "looks good", "I need the reading, in volts."),
    ("question", "yes there is", "Did you say: yes?"),
])
def test_it_is_answered(small: Checklist, english: Language, moment: str, words: str,
                        answer: str) -> None:
    talk = at(small, english, moment)
    said = talk.hear(Rejection("unclear", 0.0, 1.0, written=words), 5.0)
    assert answer in " ".join(prompt.text for prompt in said)


@pytest.mark.parametrize("moment", ["hold chocks set", "hold no gas smell", "alarm wheels are chocked tight",
                                    "confirm grave"])
def test_heard_in_own_words_it_answers_no_hold_point_and_confirms_nothing_grave(moment: str) -> None:
    came = set()
    for one in (*sentences("taught"), *sentences("held-out")):
        heard = Hypothesis(one.words, 1.0, 0.0, 1.0, engine="own", own_words=True)
        came |= set(outcome(one.words, moment, heard=heard).split(" + "))
    assert "wanted" in came and not came & {"respond", "confirm", "ask respond", "ask confirm"}


@pytest.mark.parametrize("moment", AT)
def test_nothing_is_ever_done_by_it(small: Checklist, english: Language, moment: str) -> None:
    """Whatever anybody has written down, at every moment: facts, reports and readbacks of a
    response or a reading stay as they are."""
    talk = at(small, english, moment)
    before = talk.state
    for one in (*sentences("taught"), *sentences("held-out"))[::3]:
        talk.state, talk.noting = before, False
        talk.hear(Rejection("unclear", 0.0, 1.0, written=one.words), 5.0)
        assert talk.state.facts == before.facts and talk.state.reports == before.reports, one
        assert talk.state.statuses == before.statuses and not talk.noting, one
        if talk.state.pending != before.pending:
            assert type(talk.state.pending).__name__ not in ("Respond", "Read", "Confirm"), one


@pytest.mark.parametrize(("moment", "words", "answer"), [
    ("step", "I think that's done now", "Read the volts"), ("step", "I would like to make a note", "Note on"),
    ("step", "let's skip that one for now", "Did you say: skip this?"),
    ("step", "previous", "Did you say: take it back?"),
    ("hold", "um the chocks are set", "I need to hear: chocks set."), ("confirm", "no it's not", "Chock both wheels"),
    ("confirm", "yes indeed, that's right", "First say:"), ("reading", "it says 118", "I did not catch that."),
    ("step", "can you be louder", "")])
def test_what_was_surely_said_is_done_where_it_is_harmless(
    small: Checklist, english: Language, moment: str, words: str, answer: str
) -> None:
    """The three networks agree by its sounds that this was said, though it is no phrase of the moment."""
    talk = at(small, english, moment)
    before = talk.state
    told = " ".join(one.text for one in talk.hear(
        Rejection("unclear", 0.0, 1.0, written=words, sure=0.97), 5.0))
    assert answer in told and "did not catch" not in told.replace(answer, ""), told
    assert talk.state == before or answer[:8] in ("Read the", "Did you ", "Chock bo")
    talk = at(small, english, moment)
    talk.wary = True
    talk.hear(Rejection("unclear", 0.0, 1.0, written=words, sure=0.97), 5.0)
    assert talk.state.statuses == before.statuses, "in noise it is asked about"


@pytest.mark.parametrize("moment", ("hold", "confirm", "reading"))
def test_however_sure_it_is_nothing_grave_is_done_by_it(
    small: Checklist, english: Language, moment: str
) -> None:
    talk = at(small, english, moment)
    before = talk.state
    for one in (*sentences("taught"), *sentences("held-out"))[::2]:
        talk.state, talk.noting = before, False
        talk.hear(Rejection("unclear", 0.0, 1.0, written=one.words, sure=1.0), 5.0)
        assert talk.state.facts == before.facts and talk.state.reports == before.reports, one
        assert talk.state.statuses == before.statuses, one
        if talk.state.pending != before.pending:
            assert type(talk.state.pending).__name__ not in ("Respond", "Read", "Confirm"), one


def test_overheard_talk_is_not_written_down(small: Checklist, english: Language) -> None:
    talk = at(small, english, "step")
    talk.hear(Rejection("unclear", 0.0, 1.0, written="i told her about the money"), 5.0)
    log = talk._log
    assert isinstance(log, MemoryLog)
    assert not any("money" in str(line) for line in log.lines)
