"""What is done by heart is named, read back and reported; nothing of it counts before."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import Correct, Due, Expired, Mode, Status
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.by_heart import ByHeart
from handsfree.session.conversation import Conversation
from handsfree.session.manner import Manner
from handsfree.storage import lines
from handsfree.storage.mastery import Known
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.testing import MemoryLog, talk

ENGLISH = load_language("en")
PARKED = frozenset({"parked", "chocked"})
HERE = frozenset({"slide free", "chocks proved", "side settled", "fore settled", "alarms proved",
                  "site water", "far side", "site sewer", *(f"{name} answered" for name in (
    "site water", "far side", "site sewer", "sewer far", "site power", "stay hitched"))})


@cache
def arrive() -> Checklist:
    folder = checklists_folder()
    return load_checklist(folder / "arrive.yaml", rig=load_rig(find_rig("tandem-slide")), library=folder)


class Talk:
    """From where the water is next, with all of it known by heart."""

    def __init__(self, by_heart: bool | None = True, knows: bool = True) -> None:
        c = arrive()
        self.log = MemoryLog()
        self.one = ByHeart(c, ENGLISH, self.log, manner=Manner(by_heart=by_heart),
                           known=Known(frozenset(c.steps)) if knows else None)
        self.record = load_rig(find_rig("tandem-slide")).has | PARKED | c.start_facts
        self.one.begin(self.record, 0.0)
        self.t = 0.0
        before = {*c.order[:c.order.index("tap-flush")], "site water"}
        self.one._engine.restore(replace(
            self.one._engine.state, facts=self.one._engine.state.facts | HERE,
            at="slide-locked", mode=Mode.STEP, statuses=tuple(
                Status.DONE if name in before else Status.OPEN for name in c.steps)))
        self.said = self("done")

    def __call__(self, *words: str) -> str:
        for said in words:
            self.t += 1.0
            told = self.one.hear(Hypothesis(said, 1.0, self.t, self.t), self.t)
        return " ".join(prompt.text for prompt in told)

    @property
    def facts(self) -> frozenset[str]:
        return self.one._engine.state.facts

    def done(self) -> list[str]:
        return [line.step for line in self.log.lines if isinstance(line, lines.Reported)
                and line.of == "report" and line.step != "slide-locked"]


def test_the_work_is_named_and_the_number_asked_for() -> None:
    said = Talk().said
    assert "The water, by heart." in said and said.endswith("Answer in psi.")
    assert "egulator and gauge" not in said


def test_nothing_counts_before_it_is_read_back_and_confirmed() -> None:
    here = Talk()
    read_back = here("forty psi")
    assert read_back == "Regulator is on, tap is open and forty psi. Is that right?"
    assert "regulator out" not in here.facts and here.done() == []
    here("that is right")
    assert {"regulator out", "pressure proved"} <= here.facts
    assert here.done() == ["tap-flush", "regulator-on", "tap-test", "pressure"]


def test_no_means_step_by_step_from_the_first() -> None:
    here = Talk()
    here("forty psi")
    assert here("no").startswith("Okay, step by step.")
    assert here.done() == [] and here.one.state.at == "tap-flush"
    assert "Regulator and gauge on the tap" in here("done"), "the water is asked for now"
    slip = [line for line in here.log.lines if isinstance(line, lines.Event) and line.together]
    assert [line.step for line in slip] == ["tap-flush"]


def test_a_number_beyond_its_limit_fails_as_ever() -> None:
    here = Talk()
    here("one hundred psi")
    said = here("that is right")
    assert "too high" in said
    assert "pressure proved" not in here.facts and "regulator out" in here.facts


def test_times_of_what_was_done_together_are_marked() -> None:
    here = Talk()
    here("forty psi", "that is right")
    marked = [line.step for line in here.log.lines if isinstance(line, lines.Event) and line.together]
    assert set(marked) == {"tap-flush", "regulator-on", "tap-test", "pressure"}


def test_what_was_written_down_leads_to_the_same_state() -> None:
    """A whole arrival by heart: its journal is of the events that each step has by itself."""
    c, has = arrive(), load_rig(find_rig("tandem-slide")).has
    walk = talk(c, ENGLISH, Script(answers=dict.fromkeys(c.steps, True)),
                record=has | c.start_facts, manner=Manner(by_heart=True),
                talking=partial(ByHeart, known=Known(frozenset(c.steps))))
    assert walk.conversation.over and any("by heart" in p.text for p in walk.prompts)
    again = Conversation(c, ENGLISH, MemoryLog())
    again.replay(has | c.start_facts, walk.log.lines)
    assert again.state == walk.conversation.state


def test_a_break_reports_nothing() -> None:
    here = Talk()
    here("hold on")
    assert here.one.state.mode is Mode.PAUSED and here.done() == []
    assert "Run the tap for a moment" in here("carry on") and here.done() == []


def test_a_break_within_the_readback_reports_nothing() -> None:
    here = Talk()
    here("forty psi")
    here.one.take(Correct("parked", False), 50.0)  # not before the readback is answered
    assert here.done() == [] and "parked" in here.facts


def test_an_order_that_does_not_apply_leaves_the_work_as_it_is() -> None:
    here = Talk()
    assert "does not apply" in here("go to chock")
    assert here("forty psi").startswith("Regulator is on, tap is open")


def test_another_step_can_be_taken_and_the_work_is_asked_for_again() -> None:
    here = Talk()
    said = here("go to chairs")
    assert here.one.state.at == "chairs-out" and here.done() == [], said
    assert "by heart" in here("done")
    assert here.done() == ["chairs-out"] and here.one._engine.state.at == "tap-flush"


def test_the_list_goes_back_to_one_step_at_a_time_by_voice_and_on_again() -> None:
    here = Talk()
    assert "Run the tap for a moment" in here("step by step")
    assert "The water, by heart." in here("by heart")


def test_who_has_shown_nothing_is_asked_step_by_step() -> None:
    here = Talk(knows=False)
    assert "Run the tap for a moment" in here.said
    assert "three full runs" in here("by heart")


def test_who_never_chose_is_told_of_it() -> None:
    c = arrive()
    one = ByHeart(c, ENGLISH, MemoryLog(), known=Known(frozenset(c.steps)))
    said = " ".join(prompt.text for prompt in one.begin(c.start_facts, 0.0))
    assert "Say by heart" in said
    assert one.hear(Hypothesis("done", 1.0, 1.0, 1.0), 1.0)[-1].about == "area-clear"


def test_a_look_that_grows_old_meanwhile_changes_nothing_of_the_work() -> None:
    here = Talk()
    here.one.take(Expired("chocks proved"), 5.0)
    assert here.one.state.at == "pressure" and "chocks proved" not in here.facts
    here("forty psi", "that is right")
    assert "regulator-on" in here.done()


@pytest.mark.parametrize("words", ["there is a problem", "skip this"])
def test_a_problem_at_the_end_counts_after_what_came_before(words: str) -> None:
    here = Talk()
    assert "Is that right?" in here(words)
    here("that is right")
    assert here.done()[:3] == ["tap-flush", "regulator-on", "tap-test"]


def test_what_has_waited_long_enough_comes_after_the_readback() -> None:
    """Within it, it would take the place of what was asked, as it does nowhere else."""
    here = Talk()
    here("forty psi")
    assert here.one.take(Due("leak-check"), 2000.0) == []
    assert here.one.state.mode is Mode.CONFIRM and here.done() == []
    here("that is right")
    assert here.done()[-1] == "pressure"


def answered(here: Talk) -> str:
    """What is at hand is answered as it should be."""
    step, now = here.one.checklist.steps[here.one.state.at], here.one.state
    if now.mode is Mode.CONFIRM:
        return here("that is right")
    return here("yes" if step.question else "thirty amps" if step.reading and step.reading.unit == "amps"
                else "thirty inches" if step.reading else step.respond or "done")


def on_to_the_work_after(here: Talk, waits: bool) -> None:
    """Until the leak check is waited for, on record or in the work at hand, and more is done by heart."""
    for _ in range(40):
        now = here.one._engine.state if waits else here.one.state
        if here.one._held and now.waits and here.one.state.mode is Mode.STEP:
            return
        answered(here)
    raise AssertionError(f"no such moment up to '{here.one.state.at}'")


def test_an_offer_that_was_just_made_is_not_cut_in_two_by_what_is_due() -> None:
    """The leak check falls due as the work is named: it comes after that, and the work stays whole."""
    here = Talk()
    here("forty psi", "that is right")
    on_to_the_work_after(here, waits=True)
    offered, at = [one.step for one in here.one._held], here.one.state.at
    told = [prompt.key for prompt in here.one.remind(here.t + 5000.0)]
    assert told == ([] if here.one.checklist.steps[at].hold else ["due"])
    assert here.one.remind(here.t + 5001.0) == [], "told once"
    assert [one.step for one in here.one._held] == offered and here.one.state.at == at
    here.t += 5000.0
    said = answered(here)
    while here.one.state.mode is Mode.CONFIRM:
        said = answered(here)
    assert "still dry" in said.lower(), said
    assert [*offered, at] == here.done()[-len(offered) - 1:]


def test_a_wait_that_begins_with_the_work_is_not_over_before_it() -> None:
    here = Talk()
    here("forty psi", "that is right")
    on_to_the_work_after(here, waits=False)
    assert not here.one._engine.state.waits
    assert here.one.remind(here.t + 1.0) == []
    assert not [line for line in here.log.lines if isinstance(line, lines.Event)
                and isinstance(line.event, Due)]


def test_two_equal_numbers_are_told_apart_as_they_are_read_back() -> None:
    c, has = arrive(), load_rig(find_rig("tandem-slide")).has
    walk = talk(c, ENGLISH, Script(
        answers=dict.fromkeys(c.steps, True),
        readings={"adapter-amps": ("thirty amps",), "supply-amps": ("thirty amps",)}),
        record=has | c.start_facts, manner=Manner(by_heart=True),
        talking=partial(ByHeart, known=Known(frozenset(c.steps))))
    told = [p.text for p in walk.prompts if p.key == "readback together" and "hirty amps" in p.text]
    assert told and all(text.lower().count("thirty amps") == 2 for text in told), told
