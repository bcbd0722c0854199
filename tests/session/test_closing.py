"""What is left open at the end: what can hurt comes first, and all of it is named."""

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import AskToClose, CannotClose, Closed
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.wording import Wording
from handsfree.storage.paths import checklists_folder
from handsfree.testing import talk


@pytest.fixture(scope="module")
def depart() -> Checklist:
    rig = load_rig(checklists_folder() / "rigs" / "tandem-slide.yaml")
    return load_checklist(checklists_folder() / "depart.yaml", rig=rig, library=checklists_folder())


HARMLESS = ("vents-shut", "first-stop", "markers-in", "walk-round", "last-look")
HAZARDS = ("gas-off", "unplug", "step-in", "hook-up", "chocks-out", "jack-raise")


def test_every_hazard_is_named_and_before_the_rest(depart: Checklist) -> None:
    words = Wording(depart, load_language("en"))
    harmless = [step for step in HARMLESS if step in depart.steps and not depart.steps[step].hold]
    left = (*harmless, *HAZARDS)
    for effect in (Closed(left), AskToClose(left),
                   CannotClose((), left)):
        (prompt,) = words.prompts([effect])
        places = [prompt.text.find(words.name(depart.steps[step])) for step in HAZARDS]
        assert min(places) >= 0, prompt.text
        after = [prompt.text.find(words.name(depart.steps[step])) for step in harmless]
        assert all(at < 0 or at > max(places) for at in after), prompt.text
        assert " more" in prompt.text or min(after) >= 0


def test_a_departure_that_cannot_close_says_all_that_is_in_its_way(depart: Checklist) -> None:
    out = frozenset({"parked", "chocked", "gas open", "entry step out", "cord out", "breaker off",
                     "slide extended", "awning out", "antenna up", "camp things out", "hitched",
                     "latch locked", "jack up", "chains on", "cable on", "light cord on",
                     "bars on", "sway bar on"})
    told = talk(depart, load_language("en"), Script(
        at=dict.fromkeys(depart.steps, ("skip this", "skip this"))), record=out)
    said = next(text for who, text in told.turns if who == "program" and "cannot finish" in text)
    for words in ("the gas is open", "the step is out", "the power cord is out",
                  "the awning is out", "the slide-out is out", "the roof antenna is up",
                  "the wheels are chocked"):
        assert words in said.lower(), said
