"""'Same as last time' answers a number that need not be exact, and never one that somebody's safety
hangs on.  Which numbers those are is read out of the hazards' file by PyYAML, not by our loader."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import Mode
from handsfree.errors import AuthorError
from handsfree.hearing.types import Hypothesis
from handsfree.language.loader import load_language
from handsfree.language.readings import Reading
from handsfree.rehearsal.script import Script
from handsfree.session.by_heart import ByHeart
from handsfree.session.conversation import Conversation
from handsfree.session.expecting import expected
from handsfree.session.manner import Manner
from handsfree.session.opening import start_new
from handsfree.storage.mastery import Known
from handsfree.storage.paths import find_rig
from handsfree.storage.places import Measured, Memory, last_readings
from handsfree.testing import MemoryLog, talk
from tests.outside.adversary import LIBRARY, RIGS
from tests.outside.world import names_in, tree

WORDS = {"en": "same as last time", "de": "wie letztes mal", "ko": "지난번 그대로"}
UNKNOWN = {"en": "no number from last time", "de": "keine Zahl", "ko": "지난번 값이 없습니다"}
THIRTY = {"sewer-feet": Reading(Fraction(30), "feet")}


@cache
def checklist(name: str = "arrive", rig: str = "tandem-slide") -> Checklist:
    return load_checklist(LIBRARY / f"{name}.yaml", rig=load_rig(find_rig(rig)), library=LIBRARY)


class At:
    """At a step, whatever came before."""

    def __init__(self, step: str, code: str = "en", last: dict[str, Reading] | None = None) -> None:
        c = checklist()
        self.log = MemoryLog()
        self.one = Conversation(c, load_language(code), self.log, last_time=last)
        self.one.begin(c.start_facts | load_rig(find_rig("tandem-slide")).has, 0.0)
        facts = self.one.state.facts | {"site sewer", "site sewer answered", "parked", "chocked"}
        self.one.state = replace(self.one.state, facts=facts, at=step, mode=Mode.STEP)

    def __call__(self, words: str, engine: str = "own") -> str:
        told = self.one.hear(Hypothesis(words, 1.0, 1.0, 1.0, engine=engine), 1.0)
        return " ".join(prompt.text for prompt in told)

    @property
    def reading(self) -> list[tuple[float, str]]:
        return [(line.value, line.unit) for line in self.log.lines if line.kind == "reading"]


@pytest.mark.parametrize("code", WORDS)
@pytest.mark.parametrize("engine", ["own", "keyboard"])
def test_by_voice_and_typed_it_is_the_number_of_last_time(code: str, engine: str) -> None:
    here = At("sewer-feet", code, THIRTY)
    said = here(WORDS[code], engine)
    assert {"en": "thirty feet", "de": "dreißig fuß", "ko": "삼십 피트"}[code] in said.lower(), (
        "the number itself is read back, so that whoever remembers otherwise can say no")
    assert here.one.state.at == "sewer-feet" and here.reading == []
    here(load_language(code).commands["confirm"][0])
    assert here.reading == [(30.0, "feet")] and here.one.state.at != "sewer-feet"


@pytest.mark.parametrize("code", WORDS)
def test_without_a_last_time_the_number_is_asked_for(code: str) -> None:
    here = At("sewer-feet", code)
    assert UNKNOWN[code] in here(WORDS[code])
    assert here.one.state.at == "sewer-feet"


@pytest.mark.parametrize("step", ["side-level", "fore-level", "supply-amps", "outlet-volts", "pressure",
                                  "adapter-amps", "load"])
def test_a_number_that_has_to_be_read_is_not_answered_so(step: str) -> None:
    here = At(step, last={step: Reading(Fraction(1), checklist().steps[step].reading.unit)})
    assert "same" not in expected(here.one.checklist, here.one.state).commands
    before = here.one.state
    here("same as last time")
    here("same as last time", "keyboard")
    assert here.one.state == before


def test_no_hazard_and_no_never_rule_speaks_of_what_is_answered_so() -> None:
    """Of every list and rig that comes with the program."""
    spoken_of: set[str] = set()
    for hazard in tree(LIBRARY / "shared/hazards.yaml")["hazards"].values():
        for way in hazard["unsafe"]:
            spoken_of |= names_in(" ".join(str(way["when"]).split())) | set(way.get("stale") or {})
    found = 0
    for path in sorted(LIBRARY.glob("*.yaml")):
        for rig in RIGS:
            c = checklist(path.stem, rig)
            for step in c.steps.values():
                if step.rough:
                    found += 1
                    assert not (step.gives | step.ends) & (spoken_of | c.evidence.keys()), step.id
                    assert not step.readback and step.reading
    assert found >= 3 * len(RIGS)


def test_the_loader_refuses_it_where_a_hazard_hangs_on_the_number(tmp_path: Path) -> None:
    text = (LIBRARY / "shared/water.yaml").read_text("utf-8")
    assert text.count("      gives: [pressure proved]\n") == 1
    for path in LIBRARY.rglob("*.yaml"):
        to = tmp_path / path.relative_to(LIBRARY)
        to.parent.mkdir(parents=True, exist_ok=True)
        to.write_bytes(path.read_bytes())
    (tmp_path / "shared/water.yaml").write_text(text.replace(
        "      gives: [pressure proved]\n", "      gives: [pressure proved]\n      rough: water\n"), "utf-8")
    with pytest.raises(AuthorError, match="'pressure' is to be exact.*remove 'rough:'"):
        load_checklist(tmp_path / "arrive.yaml", rig=load_rig(find_rig("tandem-slide")), library=tmp_path)


def test_by_heart_it_is_read_back_with_the_rest() -> None:
    c = checklist()
    walk = talk(c, load_language("en"),
                Script(answers=dict.fromkeys(c.steps, True), at={"sewer-feet": ("same as last time",)}),
                record=load_rig(find_rig("tandem-slide")).has | c.start_facts,
                manner=Manner(by_heart=True),
                talking=lambda *args, **options: ByHeart(
                    *args, last_time=THIRTY, known=Known(frozenset(c.steps)), **options))
    assert walk.conversation.over and "same as last time" in walk.words_of("operator")
    assert any(prompt.key == "readback together" and "thirty feet" in prompt.text.lower()
               for prompt in walk.prompts), [p.text for p in walk.prompts if "eet" in p.text]


def test_last_time_is_that_of_the_place_or_else_of_the_last_walk(tmp_path: Path) -> None:
    c, rig = checklist(), load_rig(find_rig("tandem-slide"))
    started = start_new(c, rig, tmp_path, {"rehearsal": True})
    talk(c, load_language("en"), Script(answers=dict.fromkeys(c.steps, True),
                                        readings={"sewer-feet": ("twelve feet",)}), started=started)
    started.log.close()
    found = last_readings(tmp_path, c, Memory("somewhere"))
    assert (found["sewer-feet"].value, found["sewer-feet"].unit) == (12.0, "feet")
    assert found.keys() == {"sewer-feet", "inlet-height", "extension-feet"}
    there = Memory("there", lengths={"sewer-feet": Measured(20.0, "feet", "within", "")})
    assert last_readings(tmp_path, c, there)["sewer-feet"].value == 20.0
