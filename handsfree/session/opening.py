"""Starts the record of a session: a new journal, or an unfinished one that is gone on with.

May import the session room, the checklist model and rig file, errors.  Whoever calls this holds
the rig's lock.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from handsfree.checklist.conditions import Literal
from handsfree.checklist.model import Checklist, Origin
from handsfree.checklist.rig_file import Rig
from handsfree.errors import InputError
from handsfree.language.readings import Reading, say_reading
from handsfree.session.conversation import Conversation, Log, danger_first
from handsfree.session.wording import Prompt
from handsfree.storage import journal, lines
from handsfree.storage.journal_recovery import rebuilt, replayable
from handsfree.storage.lasting import done_lately
from handsfree.storage.record import SessionFile, last_walk, latest, next_path, record_for

Begin = Callable[[Conversation, float, Log], list[Prompt]]
"""Brings a conversation to where the session begins, writes that down, gives the first words."""


LATELY = timedelta(days=60)
"""So long after a list was walked to its end, its title alone opens it; then the advice that the
owner's manual and the law stand above the program is said in full again."""


@dataclass(frozen=True)
class Started:
    """An open journal and how to begin."""

    log: journal.Journal
    begin: Begin
    last: SessionFile | None
    """The session before, or the one that is gone on with."""


def start_new(
    checklist: Checklist, rig: Rig, folder: Path, about: Mapping[str, Any], *,
    now: datetime | None = None, believes_clock: bool = True,
) -> Started:
    """A new session, from what is on the rig's record in `folder`; `about` goes to its first line.

    Args:
        now: with its time zone, where it is not what the clock says.
        believes_clock: whether it may be told by the clock what was done within its interval.

    Raises:
        InputError: the folder cannot be written.
    """
    last = latest(folder, rig.name)
    record = record_for(checklist, rig, last)
    settled = last.settled if last else frozenset(checklist.facts)
    traits = last.traits if last and last.traits is not None else rig.has
    now = now or datetime.now().astimezone()
    familiar = _walked_lately(folder, checklist.id, now)
    lately = done_lately(folder, checklist, last, now, rehearsal=bool(
        about.get("rehearsal"))) if believes_clock else {}
    facts = record.facts.difference(name for name, one in checklist.evidence.items()
                                    if one.lasting and name not in lately)
    log = journal.Journal(next_path(folder, checklist.id))

    def begin(conversation: Conversation, t: float, to: Log) -> list[Prompt]:
        conversation.be_familiar(familiar)
        prompts = conversation.begin(
            facts, t, session=str(uuid.uuid4()), clock=str(uuid.uuid4()), rig=rig.name,
            known=record.known, settled=settled, traits=traits, **about)
        if last and last.faults:
            prompts.insert(0, conversation.wording.say("damaged", tone="attention"))
        conversation.ageing.seen_before(lately, t)
        if prompts and prompts[-1].key == "offer":
            prompts[-1:-1] = _left_out(conversation, lately)
        return danger_first(prompts)

    return Started(log, begin, last)


def _left_out(conversation: Conversation, lately: Mapping[str, float]) -> list[Prompt]:
    """What would be asked here, had it not been done within its interval."""
    facts, wording, prompts = conversation.state.facts, conversation.wording, []
    steps = [conversation.checklist.steps[name] for name in conversation.checklist.order]
    for name, minutes in lately.items():
        if any(name in step.gives and not step.applicable.holds(facts)
               and step.applicable.holds(facts - {name}) for step in steps):
            days = Reading(Fraction(int(minutes // 1440)), "days")
            ago = wording.lasting(minutes) if minutes < 2880 else say_reading(
                days, conversation.language)
            prompts.append(wording.say("left out", facts=wording.clause(Literal(name)), ago=ago))
    return prompts


def _walked_lately(folder: Path, checklist: str, now: datetime) -> bool:
    """Whether it came to its end within `LATELY`; a clock that was set back does not say so."""
    last = last_walk(folder, checklist)
    if last is None or not last.ended or last.faults:
        return False
    try:
        ago = now - datetime.fromisoformat(last.began)
    except (TypeError, ValueError):  # no time, or none of a zone
        return False
    return timedelta(0) <= ago <= LATELY


def go_on(
    checklist: Checklist, folder: Path, operators: int = 1, rig: Rig | None = None,
    about: Mapping[str, Any] | None = None,
) -> Started:
    """The unfinished session, after the step at hand was read again.

    Of a checklist that was edited since, or a rig whose traits have changed, the place is lost:
    with `rig` it is begun anew from what is on record, and that is said first.  `about` then goes
    to the new first line.

    Raises:
        InputError: nothing to resume, another checklist, or without `rig` a changed one, a record
            that cannot be believed, begun by another number of operators, a folder that cannot be
            written.
    """
    last = latest(folder, rig.name if rig else "")
    if last and last.faults:
        raise InputError(f"the record cannot be gone on with ({last.faults[0]});"
                         " start without --resume: what matters is asked first.")
    if last is None or last.ended:
        raise InputError("there is no unfinished session of this rig; start without --resume.")
    if last.checklist != checklist.id:
        raise InputError(
            f"the unfinished session is '{last.checklist}', not '{checklist.id}';"
            f" resume that one, or start '{checklist.id}' without --resume.")
    told = journal.read(last.path).lines
    first = next(line for line in told if isinstance(line, lines.Begun))
    if (begun_by := len(first.operators or ()) or 1) != operators:
        raise InputError(
            "the unfinished session was begun by "
            + ("one person; resume it with one microphone." if begun_by == 1 else
               "two people; resume it with --two, or with a microphone for each."))
    if why := _place_lost(checklist, rig, first):
        if rig is None:
            raise InputError(
                f"'{checklist.id}' was edited since the session began, so its place is lost;"
                " start it again without --resume (what is out is still on record).")
        return begun_anew(start_new(checklist, rig, folder, about or {}), why)
    log = journal.Journal(last.path)  # moves a torn last line aside
    whole = not log.damaged and replayable(told)

    def begin(conversation: Conversation, t: float, to: Log) -> list[Prompt]:
        prompts: list[Prompt] = []
        if log.set_aside:
            prompts.append(conversation.wording.say("torn", tone="attention"))
        if whole:
            conversation.replay(first.record, told, t, datetime.now().astimezone())
        else:
            conversation.state = rebuilt(checklist, first.record, told)
            conversation.waits.replay(told, t, datetime.now().astimezone())
            prompts.append(conversation.wording.say("damaged", tone="attention"))
        prompts += _of_the_clock(conversation, last.last)
        to.write(lines.Restarted(str(uuid.uuid4()), log.damaged), t)
        return danger_first([*prompts, *conversation.resume(t)])

    return Started(log, begin, last)


def _place_lost(checklist: Checklist, rig: Rig | None, first: lines.Begun) -> str:
    """Why an unfinished session cannot be gone on with where it stopped; '' if it can."""
    if first.digest != checklist.digest:
        return "edited"
    traits = {name for name, fact in checklist.facts.items() if fact.origin is Origin.TRAIT}
    if rig and first.record & traits != rig.has & traits:
        return "rig"
    return ""


def begun_anew(started: Started, why: str) -> Started:
    """The same, saying first why it does not go on where it stopped: edited, rig or asked."""

    def begin(conversation: Conversation, t: float, to: Log) -> list[Prompt]:
        prompts = started.begin(conversation, t, to)
        said = conversation.wording.say(f"begun anew.{why}", tone="attention")
        return danger_first([said, *(prompt for prompt in prompts if prompt.key != "opening")])

    return replace(started, begin=begin)


LONG_AGO = timedelta(days=1)
"""When so much time seems to have passed since the last entry, it is said."""


def _of_the_clock(conversation: Conversation, last: str) -> list[Prompt]:
    """What the clock gives cause to say, against that of the last entry."""
    try:
        gone = datetime.now().astimezone() - datetime.fromisoformat(last)
    except (ValueError, TypeError):
        return []
    if gone < timedelta():
        return [conversation.wording.say("clock back", tone="attention")]
    if gone < LONG_AGO:
        return []
    days = Reading(Fraction(max(1, round(gone / timedelta(days=1)))), "days")
    return [conversation.wording.say("clock ahead", tone="attention",
                                     gone=say_reading(days, conversation.language))]
