"""A stay walked by a simulated operator: what is said, what is waited for, and how long it all takes.

Conversations are whole, in text, with every site question answered yes and nothing misheard; the
program's words last as long as in the voice that one hears.  Work takes the times that the forecast
assumes of a list, as somebody works who is not quite as expected (`simulated_operator`); the clock
goes on with talk and work, so that what waits is due when it would be.  May import the session and
storage rooms, the checklist loader, the rehearsal's operator and the simulated operators.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np

from benchmarks.simulated_operator import any_operator
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Status
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.script import Script
from handsfree.review.records import PlanStep
from handsfree.session.by_heart import Practised
from handsfree.session.manner import Manner
from handsfree.session.opening import start_new
from handsfree.storage import places
from handsfree.storage.mastery import Known
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import rig_folder
from handsfree.way.shortest import permuted

REPLY_S = 0.28
"""From the end of an utterance to the reply, the median of `python -m benchmarks latency`."""

WORD_S = 0.4
"""So long a word of the operator takes: 150 a minute."""

PLACE = "north meadow"

TWENTIETH = 20.0
"""The number of the stay: practice makes work shorter."""

_TURNS = 600


@dataclass(frozen=True)
class Paced:
    """One walk of a checklist; times in seconds.

    `talk` is the program's; `waiting` is for the program, its talk and its pause to answer, and for
    what was not due yet; `work` is at the steps; `whole` is all of it with the operator's own words.
    """

    talk: float
    words: float
    answers: float
    waiting: float
    work: float
    whole: float


@dataclass(frozen=True)
class How:
    """How somebody walks the lists."""

    manner: Manner = Manner()
    place: str = ""
    """Where it is known how it was; '' for a place without a name."""
    orders: Mapping[str, Sequence[str]] | None = None
    """In which order a list's steps are offered, where it is not its own."""
    readings: Mapping[str, tuple[str, ...]] | None = None
    """What is read out at a step, where that is not the middle of its limits."""


def stays(
    rig: Rig, names: Sequence[str], language: Language, data: Path, how: How,
    lasting: Callable[[str], float], seed: int,
) -> list[Paced]:
    """Each checklist walked, one after another on one record.

    Args:
        data: the folder of the record.
        lasting: seconds of a text in the voice.
        seed: another operator.

    Raises:
        RuntimeError: a walk that does not come to its end.
    """
    found = []
    for name in names:
        checklist = load_checklist(checklists_folder() / f"{name}.yaml", rig=rig,
                                   library=checklists_folder())
        if how.orders:
            checklist = permuted(checklist, tuple(how.orders[name]))
        found.append(_walk(checklist, rig, language, data, how, lasting, seed))
    return found


def _walk(
    checklist: Checklist, rig: Rig, language: Language, data: Path, how: How,
    lasting: Callable[[str], float], seed: int,
) -> Paced:
    been = places.visits(data, places.Names(), rehearsals=True) if how.place else []
    started = start_new(checklist, rig, rig_folder(data, rig.name),
                        {"rehearsal": True, "place": how.place})
    one = Practised(places.memory(been, how.place, checklist, rig.name, rig.has), checklist, language,
                    started.log, manner=how.manner, known=Known(frozenset(checklist.steps)))
    operator = Operator(Script(answers=dict.fromkeys(checklist.steps, True),
                               readings=how.readings or {}), checklist, language)
    times, worked = _times(checklist, seed), set[str]()
    prompts = started.begin(one, 0.0, started.log)
    t = talk = waiting = work = 0.0
    words = answers = 0
    for _ in range(_TURNS):
        said = sum(lasting(prompt.text) for prompt in prompts if prompt.text)
        words += sum(len(prompt.text.split()) for prompt in prompts)
        t, talk, waiting = t + said, talk + said, waiting + said
        for prompt in prompts:
            operator.hear(prompt)
        if one.over:
            break
        if prompts and prompts[-1].key == "wait":
            left = 60 * min(minutes for _, minutes in one.waiting(t))
            t, waiting = t + left + 0.1, waiting + left
            prompts = one.remind(t)
            continue
        answer = operator.answer()
        if operator.works:
            mine = _at_hand(one, checklist) - worked
            took = sum(times[name] for name in mine)
            worked |= mine
            t, work = t + took, work + took
        t += WORD_S * len(answer.split()) + REPLY_S
        waiting, answers = waiting + REPLY_S, answers + 1
        prompts = one.hear(Hypothesis(answer, 1.0, t, t), t)
        prompts = prompts if one.over else [*prompts, *one.remind(t)]
    started.log.close()
    if not one.over:
        raise RuntimeError(f"{checklist.id} does not come to its end at '{one.state.at}'")
    return Paced(talk, words, answers, waiting, work, t)


def _at_hand(one: Practised, checklist: Checklist) -> set[str]:
    """The step that is answered, and all that is done, by heart or before."""
    statuses = zip(checklist.steps, one.state.statuses, strict=True)
    return {one.state.at, *(name for name, status in statuses if status is Status.DONE)} - {""}


def _times(checklist: Checklist, seed: int) -> dict[str, float]:
    """Seconds of work at each step, of one operator on one day; a question is nothing but talk."""
    rng = np.random.default_rng(seed)
    plan = tuple(PlanStep(name, *step.minutes) for name, step in checklist.steps.items())
    drawn, _ = any_operator(rng, plan).stays(rng, np.array([TWENTIETH]))
    return {one.step: 0.0 if checklist.steps[one.step].question else float(seconds)
            for one, seconds in zip(plan, drawn[0], strict=True)}


def middle(some: Sequence[Paced]) -> Paced:
    """The medians of several operators."""
    return Paced(*(median(getattr(one, name) for one in some)
                   for name in Paced.__dataclass_fields__))
