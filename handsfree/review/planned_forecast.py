"""One forecast of a checklist, for the command and for the voice alike.

Pure, but for chance from a fixed seed.  May import this room, the checklist model, the engine's
state and numpy.  What is assumed on the way (answers, the state of the rig, whose times) is kept
as sentences to be told, in the language of whoever asks for them.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from handsfree.checklist.model import Checklist, Origin
from handsfree.checklist.yaml_reader import did_you_mean
from handsfree.engine.state import State
from handsfree.errors import InputError
from handsfree.review.applying import Applying, applying, remaining
from handsfree.review.columns import Columns
from handsfree.review.forecast import Array, Fitted, Remaining, fit, minutes_left
from handsfree.review.records import PlanStep
from handsfree.review.scheduling import Schedule, schedule
from handsfree.review.statistics import pert
from handsfree.review.summary import past, step_done
from handsfree.review.translation import say

_LATEST = 10
"""Stays that say what is usual."""
_HARDLY = 0.25
"""Share of a checklist's whole time below which hardly anything of it applies."""
_FEW = 3
"""Own stays below which others' count for much."""


@dataclass(frozen=True)
class Whose:
    """For whom and where a forecast is made; '' where it is not known."""

    operator: str = ""
    rig: str = ""
    place: str = ""
    people: int = 1


@dataclass(frozen=True)
class Remark:
    """Something that was assumed or noticed, to be told with the forecast."""

    say: Callable[[], str]
    """The sentence that the command prints, in the language of now."""
    spoken: str = ""
    """Which short sentence the voice has for it, of those that begin with 'time left'; '' if it
    has none, since nothing of it changes what is to be done under way."""
    values: Mapping[str, str] = field(default_factory=dict)
    """What that sentence names."""


@dataclass(frozen=True)
class Outlook:
    """What the next stay with a checklist will take."""

    checklist: Checklist | None
    """None where only the history is known."""
    whose: Whose
    plan: tuple[PlanStep, ...]
    answers: Mapping[str, bool]
    start: frozenset[str]
    """What is taken to be true of the rig at the start."""
    complete: bool
    fitted: Fitted
    ratio: float
    """What two people's common time is of the sum of their steps; 1 for one."""
    stays: int
    """Earlier stays that it rests on."""
    remarks: tuple[Remark, ...]
    """What was assumed and noticed."""

    @property
    def told(self) -> tuple[str, ...]:
        """The same in sentences."""
        return tuple(remark.say() for remark in self.remarks)

    @cached_property
    def totals(self) -> Array:
        """Draws of the seconds from start to end."""
        return self.fitted.totals(ratio=self.ratio)

    @property
    def applies(self) -> tuple[str, ...]:
        """Steps that are expected to come."""
        return tuple(p.step for p in self.plan if p.applies)

    def left(
        self, state: State, *, done: Mapping[str, float] | None = None, at_seconds: float = 0.0,
    ) -> Remaining | None:
        """Minutes left of a session in this state; None if nothing is left to do.

        Args:
            done: seconds that steps took in it so far.
            at_seconds: seconds already spent on the step at hand.
        """
        if self.checklist is None:
            return None
        known = {step.step for step in self.plan}
        steps = [step for step in remaining(self.checklist, state, self.answers) if step in known]
        if not steps:
            return None
        ratio = self._ratio_from(state) if self.whose.people > 1 else 1.0
        return minutes_left(self.fitted, steps, at=state.at, at_seconds=at_seconds, done=done,
                            ratio=ratio)

    def what_if(self, without: Sequence[str] = (), first: Sequence[str] = ()) -> WhatIf | None:
        """The usual course, and what it comes to without steps and in another order; None where
        there is no checklist to walk.

        Raises:
            InputError: no such step will come, or there is no checklist to walk.
        """
        if self.checklist is None:
            will_come((*without, *first), None)
            return None
        will_come((*without, *first), self.plan)
        plain = self._walk()
        changed = [Changed((step,), False, self._walk(without=(step,))) for step in without]
        if first:
            changed.append(Changed(tuple(first), True, self._walk(order=first)))
        return WhatIf(plain, tuple(changed), self.whose.people)

    def _walk(self, *, without: Sequence[str] = (), order: Sequence[str] = ()) -> Schedule:
        assert self.checklist is not None
        return schedule(self.checklist, self.start, self.expected, people=self.whose.people,
                        answers=self.answers, without=without, order=order)

    def _ratio_from(self, state: State) -> float:
        assert self.checklist is not None
        return schedule(self.checklist, state, self.expected, people=2,
                        answers=self.answers).ratio

    @property
    def expected(self) -> dict[str, float]:
        """Seconds that each step of the plan usually takes."""
        return {p.step: float(seconds)
                for p, seconds in zip(self.plan, self.fitted.usual, strict=True)}


@dataclass(frozen=True)
class Changed:
    """The course without a step, or with `steps` `first`."""

    steps: tuple[str, ...]
    first: bool
    course: Schedule

    @property
    def label(self) -> str:
        """What was changed, in a few words."""
        named = ", ".join(self.steps)
        return say("{steps} first", steps=named) if self.first else say("without {step}", step=named)


@dataclass(frozen=True)
class WhatIf:
    """When which step would come if each took its usual time, as planned and changed."""

    plain: Schedule
    changed: tuple[Changed, ...]
    people: int

    @property
    def told(self) -> list[str]:
        """What it comes to, in sentences."""
        told = []
        if self.people > 1:
            chain = sorted(self.plain.critical, key=lambda visit: visit.begin - visit.end)
            told.append(say("What sets the time of two, the longest first: {steps}.",
                            steps=", ".join(f"{visit.step} ({say(visit.who)},"
                                            f" {_span(visit.end - visit.begin)})"
                                            for visit in chain[:6])))
        return told + [self._of(one) for one in self.changed]

    def _of(self, one: Changed) -> str:
        more = one.course.seconds - self.plain.seconds
        named = ", ".join(one.steps)
        if not one.first:
            if -more >= 30:
                return say("Without {step}: {time} less.", step=named, time=_span(-more))
            return say("Without {step} it takes as long: others set the time.", step=named) if (
                self.people > 1) else say("Without {step} it takes as long.", step=named)
        late = [step for step, planned in zip(one.steps, one.course.steps, strict=False)
                if step != planned]
        text = say("With {steps} first: as long", steps=named) if abs(more) < 30 else (
            say("With {steps} first: {time} more", steps=named, time=_span(more)) if more > 0
            else say("With {steps} first: {time} less", steps=named, time=_span(-more)))
        return text + (say("; {step} cannot come as early as that.", step=late[0]) if late else ".")


def will_come(steps: Sequence[str], plan: Sequence[PlanStep] | None) -> None:
    """Whether these steps are among those that apply.

    Raises:
        InputError: one is not, or there is no plan to go by.
    """
    if plan is None:
        if steps:
            raise InputError("without a rig file no order of steps can be tried.")
        return
    applies = [p.step for p in plan if p.applies]
    for step in steps:
        if step not in applies:
            raise InputError(f"'{step}' is no step that will come{did_you_mean(step, applies)};"
                             f" those are: {', '.join(applies)}.")


def outlook(
    checklist: Checklist, record: frozenset[str], history: Columns, whose: Whose = Whose(), *,
    answers: Mapping[str, bool] | None = None, as_is: bool = False, after: str = "",
    asked: Sequence[str] = (),
) -> Outlook:
    """Forecast a checklist from what is on record, with the times of all who did it before.

    Args:
        record: everything that is true of the rig now, its traits included.
        history: real sessions in order, of whatever checklist, operator and rig.
        answers: site questions by id; others are answered by the place's history, then as last
            time, then in the way that takes longer.
        as_is: plan from the record even if earlier stays began from another state.
        after: the checklist after whose usual end `record` is assumed to be so.
        asked: steps that somebody asks about, who is told before anything is reckoned if one of
            them will not come.

    Raises:
        InputError: one of `asked` will not come.
    """
    chosen = _stays(history, checklist.id)
    told: list[Remark] = []
    usual_answers, place_told = _site_answers(checklist, chosen, whose.place, answers or {})
    told += place_told
    found = applying(checklist, record, {**usual_answers, **(answers or {})})
    if after:
        told.append(Remark(lambda: say(
            "Planned as after a usual '{checklist}', not from the record as it is now.",
            checklist=after)))
    else:
        found, more = _in_phase(checklist, record, chosen, whose, found, usual_answers,
                                answers or {}, as_is)
        told += more
    will_come(asked, found.plan)
    return _made(checklist, found, chosen, whose, told)


def from_history(
    name: str, history: Columns, whose: Whose = Whose()
) -> Outlook | None:
    """Forecast by earlier stays alone, where there is no rig file; None without any.

    The steps that count are those that were done in at least half of the rig's latest stays.
    """
    chosen = _stays(history, name)
    own = _of_rig(chosen, whose.rig)
    if not len(own):
        return None
    plan = own.session(len(own) - 1).plan
    if not plan:
        return None
    counts = step_done(own.choose(np.arange(len(own))[-_LATEST:]))
    half = min(len(own), _LATEST) / 2
    steps = tuple(p._replace(applies=counts.get(p.step, 0) >= half) for p in plan)
    told = [Remark(lambda: say("There is no rig file to go by: the steps are those that most of the"
                               " latest stays had."))]
    if whose.people > 1:
        told.append(Remark(lambda: say("Without one two people cannot be scheduled: this goes by"
                                       " earlier stays as they were.")))
    return _made(None, Applying(steps, {}, frozenset(), True), chosen, whose, told)


def _made(
    checklist: Checklist | None, found: Applying, chosen: Columns, whose: Whose, told: list[Remark]
) -> Outlook:
    before = past(chosen, chosen.words[chosen.sessions["checklist"][0]] if len(chosen) else "",
                  found.plan)
    ratio = 1.0
    if checklist and whose.people > 1:
        ratio = schedule(checklist, found.start, _by_plan(found.plan), people=2,
                         answers=found.answers).ratio
    fitted = fit(found.plan, before, operator=whose.operator, rig=whose.rig, ratio=ratio)
    made = Outlook(checklist, whose, found.plan, found.answers, found.start, found.complete, fitted,
                   ratio, before.stays, tuple(told))
    more = [*_borrowed(before.operators, before.rigs, whose), *_changed(fitted)]
    return replace(made, remarks=(*told, *more))


# --- what is usual -------------------------------------------------------------------------------

def _stays(history: Columns, checklist: str) -> Columns:
    rows = np.flatnonzero((history.sessions["checklist"] == history.code(checklist))
                          & ~history.sessions["rehearsal"].astype(bool))
    return history.choose(rows)


def _of_rig(chosen: Columns, rig: str) -> Columns:
    """The stays with the rig; all if none is named."""
    if not rig:
        return chosen
    return chosen.choose(np.flatnonzero(chosen.sessions["rig"] == chosen.code(rig)))


def _site_answers(
    checklist: Checklist, chosen: Columns, place: str, given: Mapping[str, bool]
) -> tuple[dict[str, bool], list[Remark]]:
    """Site questions as they were mostly answered, here if it is known where; and what to tell."""
    questions = [s.id for s in checklist.steps.values() if s.question and s.id not in given]
    here = chosen
    if place:
        same = [row for row, name in enumerate(chosen.text("place"))
                if name.casefold() == place.casefold()]
        here = chosen.choose(np.array(same, "i4"))
    told = [Remark(lambda: say("Nothing is on record of {place}: the site's answers are those of"
                               " other places.", place=place))] if place and not len(here) and questions else []
    here = here if len(here) else chosen
    votes: dict[str, Counter[bool]] = {}
    for text in here.text("answers")[-_LATEST if place else -1:]:
        for question, answer in json.loads(text or "{}").items():
            votes.setdefault(question, Counter())[bool(answer)] += 1
    return {q: votes[q][True] >= votes[q][False] for q in questions if q in votes}, told


def _usual_start(
    checklist: Checklist, record: frozenset[str], chosen: Columns, rig: str
) -> frozenset[str] | None:
    """What was so of the rig when this checklist was last begun; its traits as they are now."""
    own = _of_rig(chosen, rig)
    own = own if len(own) else chosen
    if not len(own):
        return None
    traits = {f.name for f in checklist.facts.values() if f.origin is Origin.TRAIT}
    begun = frozenset(json.loads(own.text("record")[-1] or "[]"))
    return (begun - traits | record & traits) if begun else None


def _in_phase(
    checklist: Checklist, record: frozenset[str], chosen: Columns, whose: Whose,
    found: Applying, usual_answers: Mapping[str, bool], given: Mapping[str, bool], as_is: bool,
) -> tuple[Applying, list[Remark]]:
    """The plan, from an assumed state if the record is out of phase with what was done before."""
    own = _of_rig(chosen, whose.rig)
    own = own if len(own) else chosen
    if not len(own):
        return found, _hardly_any(checklist, found)
    latest = own.choose(np.arange(len(own))[-_LATEST:])
    counts = step_done(latest)
    half = len(latest) / 2
    minutes = {p.step: pert(p.least, p.likely, p.most)[0] for p in found.plan}
    usual = {step for step in minutes if counts.get(step, 0) >= half}
    planned = {p.step for p in found.plan if p.applies}
    done = sum(minutes[step] for step in usual)
    share = sum(minutes[step] for step in planned) / done if done else 1.0
    if 0.67 <= share <= 1.5:
        return found, []
    spoken = {"planned": str(len(planned)), "usual": str(len(usual))}

    def remark(more: Callable[[], str]) -> Remark:
        return Remark(lambda: say(
            "By the record as it is now {planned} steps apply ({minutes:.0f} min), while earlier"
            " stays had {usual} ({done:.0f} min by the plan).", planned=len(planned),
            minutes=found.minutes, usual=len(usual), done=done) + " " + more(),
            "time left apart", spoken)

    as_it_is = remark(lambda: say("'handsfree rig' shows what is on record."))
    start = None if as_is or 0.5 <= share <= 2.0 else _usual_start(
        checklist, record, chosen, whose.rig)
    if start is None:
        return found, [as_it_is]
    assumed = applying(checklist, start, {**usual_answers, **given})
    if abs(np.log(max(assumed.minutes, 0.1) / done)) >= abs(np.log(max(share, 1e-3))):
        return found, [as_it_is]
    return assumed, [remark(lambda: say(
        "Planned from the state in which the rig usually is when '{checklist}' begins; --as-is"
        " plans from the record.", checklist=checklist.id))]


def _hardly_any(checklist: Checklist, found: Applying) -> list[Remark]:
    """Without earlier stays: that by the record next to nothing of the checklist is to be done."""
    planned = sum(p.applies for p in found.plan)
    whole = sum(pert(p.least, p.likely, p.most)[0] for p in found.plan)
    if not planned or found.minutes >= _HARDLY * whole:
        return []
    return [Remark(lambda: say(
        "By the record as it is now only {planned} of the {all} steps of '{checklist}' apply"
        " ({minutes:.0f} min by the plan); --after CHECKLIST plans as after another.",
        planned=planned, all=len(found.plan), checklist=checklist.id, minutes=found.minutes))]


def _span(seconds: float) -> str:
    return say("{minutes} min", minutes=f"{seconds / 60:.0f}") if seconds >= 90 else (
        f"{5 * round(seconds / 5)} s")


def _borrowed(
    operators: tuple[str, ...], rigs: tuple[str, ...], whose: Whose
) -> list[Remark]:
    """Whose times it rests on, where there are few of one's own."""
    return [_borrowing(noun, named, sum(name == named for name in all_), len(all_))
            for noun, named, all_ in (("operator", whose.operator, operators),
                                      ("rig", whose.rig, rigs))
            if sum(name == named for name in all_) < min(_FEW, len(all_))]


def _borrowing(noun: str, named: str, own: int, all_: int) -> Remark:
    def told() -> str:
        who = f"{say(noun)} {named}" if named else (
            say("an operator without a name") if noun == "operator" else say("a rig without a name"))
        known = (say("There is no stay of {who}:", who=who) if not own
                 else say("There is only 1 stay of {who}:", who=who) if own == 1
                 else say("There are only {own} stays of {who}:", own=own, who=who))
        others = all_ - own
        return known + " " + (say("borrowing from 1 stay of others.") if others == 1
                              else say("borrowing from {others} stays of others.", others=others))

    return Remark(told, f"time left {noun}")


def _changed(fitted: Fitted) -> list[Remark]:
    """That the pace has changed, little by little or at once."""
    if fitted.drift:
        return [_drifted(*fitted.drift)]
    if not fitted.changed:
        return []
    percent = abs(np.expm1(fitted.change))
    slower = fitted.change > 0
    return [Remark(
        lambda: say("For the last {stays} stays everything has taken {percent:.0%} longer; what was"
                    " before counts less.", stays=fitted.changed, percent=percent) if slower else
        say("For the last {stays} stays everything has taken {percent:.0%} less time; what was"
            " before counts less.", stays=fitted.changed, percent=percent),
        f"time left {'slower' if slower else 'faster'}",
        {"stays": str(fitted.changed), "percent": f"{100 * percent:.0f}"})]


def _drifted(by: float, stays: int) -> Remark:
    percent, slower = abs(np.expm1(by)), by > 0
    return Remark(
        lambda: say("It has been taking longer from stay to stay: {percent:.0%} more over {stays} stays.",
                    stays=stays, percent=percent) if slower else
        say("It has been taking less time from stay to stay: {percent:.0%} less over {stays} stays.",
            stays=stays, percent=percent),
        f"time left drifting {'slower' if slower else 'faster'}",
        {"stays": str(stays), "percent": f"{100 * percent:.0f}"})


# --- checking itself -----------------------------------------------------------------------------

@dataclass(frozen=True)
class Kept:
    """How often the forecast's own times were met, each made from the stays before it."""

    stays: int
    half: int
    """Stays that were done within the 50 % time, and within the 80 % time."""
    eighty: int
    left_out: int = 0
    """Stays by two people that could not be judged, since their checklist is not at hand."""


def kept_promises(
    history: Columns, name: str, checklist: Checklist | None = None, *, latest: int = 30
) -> Kept | None:
    """Forecast each of the latest stays from those before it; None below four closed stays.

    The steps that count are those that were done, since a forecast of times is judged here, not
    one of what will have to be done.

    Args:
        name: the checklist's id.
        checklist: that checklist, by which two people are scheduled.
    """
    chosen = _stays(history, name)
    if len(chosen) < 4:
        return None
    plan = chosen.session(len(chosen) - 1).plan
    if not plan:
        return None
    whole = past(chosen, name, plan)
    judged = chosen.choose(np.arange(len(chosen))[-whole.stays:])
    closed = judged.sessions["closed"].astype(bool)
    pair = judged.sessions["operators"] > 1
    done = np.isfinite(whole.seconds)
    half = eighty = count = left_out = 0
    for stay in range(max(1, whole.stays - latest), whole.stays):
        applies = {p.step for p, was in zip(plan, done[stay], strict=True) if was}
        if not closed[stay] or not applies or not np.isfinite(whole.besides[stay]):
            continue
        if pair[stay] and checklist is None:
            left_out += 1
            continue
        work, ratio = float(np.nansum(whole.seconds[stay])), 1.0
        if pair[stay]:
            assert checklist is not None
            work, ratio = float(whole.spans[stay]), _ratio_of_two(checklist, judged, stay, plan)
        taken = work + float(whole.besides[stay])
        totals = fit(plan, whole.before(stay), operator=whole.operators[stay],
                     rig=whole.rigs[stay], ratio=ratio).totals(applies, ratio=ratio)
        middle, high = np.quantile(totals, (0.5, 0.8))
        half, eighty, count = half + (taken <= middle), eighty + (taken <= high), count + 1
    return Kept(count, int(half), int(eighty), left_out) if count >= 3 else None


def _ratio_of_two(
    checklist: Checklist, stays: Columns, stay: int, plan: Sequence[PlanStep]
) -> float:
    """As a forecast made just before that stay would schedule two people."""
    start = frozenset(json.loads(stays.text("record")[stay] or "[]"))
    answers = json.loads(stays.text("answers")[stay] or "{}")
    return schedule(checklist, start, _by_plan(plan), people=2, answers=answers).ratio


def _by_plan(plan: Sequence[PlanStep]) -> dict[str, float]:
    """Seconds that the plan expects of each step."""
    return {p.step: 60 * pert(p.least, p.likely, p.most)[0] for p in plan}
