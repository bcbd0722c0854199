"""Sentences of several writers at real moments of the shipped checklists, and what came of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist, Origin
from handsfree.engine.state import (
    Answer,
    Ask,
    Done,
    Event,
    GoTo,
    Mode,
    Read,
    Respond,
    State,
    TakeBack,
    Unclear,
    Unsure,
)
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.language.loader import load_language
from handsfree.proof.moments import moments
from handsfree.session.conversation import Conversation
from handsfree.session.manner import Manner
from handsfree.storage import lines
from handsfree.storage.paths import checklists_folder
from handsfree.testing import MemoryLog

HERE = Path(__file__).parent
READ_AT = {"volts": "outlet-volts", "psi": "pressure", "degrees": "side-level",
           "inches": "inlet-height", "feet": "sewer-feet", "amps": "supply-amps"}
STEPS = {"step": "look-round", "remedy": "joints-again", "question": "stay hitched"}
WANTED = ("not now", "needs its response", "needs a reading", "answer yes or no", "confirm first",
          "wanted", "alarm", "paused still")
"""Keys of prompts that say what is wanted."""


@dataclass(frozen=True)
class Sentence:
    """`moment` and `meaning` as in the files; `words` as somebody says them."""

    moment: str
    writer: str
    words: str
    meaning: str

    def __str__(self) -> str:
        return f"[{self.moment}] {self.writer}: {self.words} => {self.meaning}"


def sentences(name: str) -> list[Sentence]:
    """All of a file, in order.  Raises ValueError for a line that is none."""
    return list(_sentences((HERE / f"wordings-{name}.txt").read_text(encoding="utf-8")))


def _sentences(text: str) -> Iterator[Sentence]:
    moment = meaning = ""
    for line in text.splitlines():
        if not line or line.startswith("#"):
            continue
        if head := re.fullmatch(r"\[(.+)\] (.+)", line):
            moment, meaning = head.groups()
        elif said := re.fullmatch(r"([a-z]): (.+?)(?: => (.+))?", line):
            yield Sentence(moment, said[1], said[2], said[3] or meaning)
        else:
            raise ValueError(f"'{line}' is no sentence")


@cache
def checklist(name: str = "arrive") -> Checklist:
    return load_checklist(checklists_folder() / f"{name}.yaml")


@cache
def state_at(moment: str) -> tuple[Checklist, State]:
    """The checklist and the state at a moment of the files, on a rig that has everything."""
    kind, _, rest = moment.partition(" ")
    for name in ("arrive", "depart"):
        c = checklist(name)
        traits = frozenset(f.name for f in c.facts.values() if f.origin is Origin.TRAIT)
        for one in moments(c, traits | c.start_facts):
            step = c.steps.get(one.step)
            here = one.state
            if kind in STEPS and one.step == STEPS[kind] and one.kind != "confirm":
                return c, here
            if kind == "reading" and one.step == READ_AT[rest] and one.kind != "confirm":
                return c, here
            if kind == "hold" and step and rest in step.responses and one.kind != "confirm":
                return c, here
            if moment == "asked done" and one.step == STEPS["step"]:
                return c, replace(here, mode=Mode.CONFIRM, pending=Done())
            if moment == "confirm grave" and one.step == "chock":
                return c, replace(here, mode=Mode.CONFIRM, pending=Respond())
            if moment == "confirm plain" and one.step == READ_AT["psi"]:
                return c, replace(here, mode=Mode.CONFIRM, pending=Read("within"))
            if kind == "paused" and one.kind == "paused":
                return c, here
            if kind == "alarm" and one.kind == "alarm" and any(
                    r.id == one.rule and rest in r.responses for r in c.rules):
                return c, here
    raise ValueError(f"there is no moment '{moment}'")


@cache
def talk_at(moment: str, code: str = "en") -> Conversation:
    """A conversation at a moment of the files."""
    c, state = state_at(moment)
    talk = Conversation(c, load_language(code), MemoryLog())
    talk.begin(state.facts, 0.0)
    return talk


def outcome(words: str, moment: str, code: str = "en", heard: Heard | None = None) -> str:
    """What the real conversation makes of the words, in the terms of the files.

    'nothing': it was not understood; 'wanted': it was answered by what is wanted here.

    Args:
        heard: what a recogniser made of them, instead of the words as they are.
    """
    _, state = state_at(moment)
    talk = talk_at(moment, code)
    talk.state, talk.noting, talk.manner = state, False, Manner()
    log = talk._log
    assert isinstance(log, MemoryLog)
    log.lines.clear()
    prompts = talk.hear(heard or Hypothesis(words, 1.0, 1.0, 2.0), 2.0)
    found = []
    for line in log.lines:
        if line.what == "event":
            found.append(_event(line.event, line))
        elif line.what == "reminder":
            found.append(f"remind {line.minutes}")
        elif line.what == "note":
            found.append(f"note: {line.text}")
    if talk.noting:
        found.append("note")
    keys = [prompt.key for prompt in prompts]
    found += [key.removeprefix("manner.") for key in keys if key.startswith("manner.")]
    found += ["time" for key in keys if key in ("time", "time left")]
    found += ["which" for key in keys if key == "which number"]
    found = [one for one in found if one]
    if keys == ["alarm"] and found == ["repeat"] and "repeat" not in talk.matcher.sayings.means(
            talk.matcher.sayings.plain(words)):
        return "wanted"
    if "repeat" not in found and any(key in WANTED for key in keys) and talk.state == state and set(keys) <= {*WANTED}:
        return "wanted"
    return " + ".join(found) or "nothing"


def _event(event: Event, line: lines.Event) -> str:
    """An event of the journal in the files' terms; '' for one that does nothing."""
    if isinstance(event, Unsure):
        return f"ask {_event(event.event, line)}"
    if isinstance(event, Unclear):
        return ""
    if isinstance(event, Ask):
        return event.about
    if isinstance(event, Read):
        assert line.reading is not None
        return f"= {float(line.reading.value):g}"
    if isinstance(event, Answer):
        return "yes" if event.yes else "no"
    kind = re.sub(r"(?<!^)(?=[A-Z])", " ", type(event).__name__).lower()
    return f"{kind} {event.step}".rstrip() if isinstance(event, (GoTo, TakeBack)) else kind
