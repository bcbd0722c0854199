"""How long words wait by what they would do: what is not read back, and what may go on, longer."""

from math import inf

import pytest

from handsfree.checklist.model import Checklist
from handsfree.hearing.early_finalisation import FIRM, QUICK
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.session.conversation import Conversation
from handsfree.session.wording import Prompt
from handsfree.testing import MemoryLog


@pytest.fixture
def conversation(small: Checklist, english: Language) -> Conversation:
    made = Conversation(small, english, MemoryLog())
    made.begin(small.start_facts, 0.0)
    return made


def hear(conversation: Conversation, *words: str) -> list[Prompt]:
    prompts: list[Prompt] = []
    for text in words:
        prompts = conversation.hear(Hypothesis(text, 1.0, 0.0, 0.5), 1.0)
    return prompts


def test_commands_are_quick_and_answers_that_set_a_fact_are_firm(
    conversation: Conversation
) -> None:
    assert conversation.finalisation_delay("say again") == QUICK
    assert conversation.finalisation_delay("yes") == conversation.finalisation_delay("no") == FIRM


def test_words_that_may_not_be_said_wait(conversation: Conversation) -> None:
    assert conversation.finalisation_delay("chocks set") == conversation.finalisation_delay("lovely weather") == inf


def test_a_hold_points_response_is_quick_since_it_is_read_back_its_confirmation_is_not(
    conversation: Conversation,
) -> None:
    hear(conversation, "no")
    assert conversation.finalisation_delay("chocks set") == QUICK
    hear(conversation, "chocks set")
    assert conversation.finalisation_delay("that is right") == FIRM
    assert conversation.finalisation_delay("that is wrong") == QUICK


def test_a_beginning_of_another_meaning_waits_one_of_the_same_does_not(
    conversation: Conversation, small: Checklist, english: Language
) -> None:
    # "why" begins "why is that" and "skip" begins "skip this": the same.
    assert conversation.finalisation_delay("why") == QUICK
    hear(conversation, "no")
    assert conversation.finalisation_delay("skip") == QUICK
    # "undo that" takes back the last report, "undo" begins "undo" with a step's name.
    assert conversation.finalisation_delay("undo") == inf


def test_a_reading_within_the_limits_may_be_whole_one_outside_may_go_on(
    conversation: Conversation,
) -> None:
    hear(conversation, "no", "chocks set", "that is right", "done")
    assert conversation.finalisation_delay("one hundred") == inf
    assert conversation.finalisation_delay("one hundred ten") == FIRM
    assert conversation.finalisation_delay("one hundred ten volts") == FIRM
    hear(conversation, "one hundred ten")
    assert conversation.finalisation_delay("that is right") == FIRM


def test_a_note_is_never_cut_short(conversation: Conversation) -> None:
    hear(conversation, "make a note")
    assert conversation.finalisation_delay("say again") == inf


def test_what_will_be_said_to_the_usual_answer_is_made_ready(
    conversation: Conversation, small: Checklist
) -> None:
    for words in ("no", "chocks set", "that is right", "done", "one hundred ten",
                  "that is right", "done"):
        ready = conversation.replies()
        state = conversation.state
        prompts = hear(conversation, words)
        assert conversation.state is not state
        if words != "one hundred ten":  # what will be read out is not known
            assert {prompt.text for prompt in prompts if prompt.text} <= set(ready), words


def test_making_ready_does_not_use_up_a_caution(conversation: Conversation) -> None:
    hear(conversation, "no", "chocks set")
    conversation.replies()
    prompts = hear(conversation, "that is right")
    assert "Nobody between truck and trailer" in prompts[-1].text
