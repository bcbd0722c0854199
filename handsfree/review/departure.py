"""A forecast in sentences: when to start, what is assumed, what would change it.

Pure.  May import planned_forecast, forecast, number_format and translation.
"""

from __future__ import annotations

from datetime import datetime

from handsfree.review.forecast import chance_in_time, start_times
from handsfree.review.number_format import about_minutes
from handsfree.review.planned_forecast import Outlook, WhatIf
from handsfree.review.translation import say

_FEW = 5
"""Stays below which the plan has the most to say."""


def sentences(
    name: str, found: Outlook, what_if: WhatIf | None, by: datetime, now: datetime
) -> list[str]:
    """Everything that is to be told, in the language of now.

    Args:
        name: the checklist's id.
        by: when to be rolling, and `now`, both with their time zone.
    """
    steps, stays = len(found.applies), found.stays
    told = [say("{name}: {steps} steps apply, 1 earlier stay.", name=name, steps=steps)
            if stays == 1 else say("{name}: {steps} steps apply, {stays} earlier stays.",
                                   name=name, steps=steps, stays=stays), *found.told]
    if found.answers:
        told.append(say(
            "Assuming {answers} (as the place mostly was, else as last time, else the longer way;"
            " change with --yes or --no).", answers=", ".join(
                f"{question}: {say('yes') if answer else say('no')}"
                for question, answer in found.answers.items())))
    if not found.complete:
        told.append(say("The checklist cannot be closed from what is on record, so more may come."))
    starts = start_times(found.totals, by)
    for start in starts:
        day = "" if start.start.date() == now.date() else f"{start.start:%Y-%m-%d}, "
        told.append(say("{chance:>4.0%} in time: start by {start:%H:%M}  ({day}{span} before"
                        " {by:%H:%M})", chance=start.chance, start=start.start, day=day,
                        span=about_minutes(start.minutes), by=by)
                    + ("   " + say("already past") if start.start < now else ""))
    left = (by - now).total_seconds()
    if left < starts[-1].minutes * 60:
        told.append(say("Starting now, {share:.0%} of departures would be in time.",
                        share=chance_in_time(found.totals, left)))
    told += what_if.told if what_if else []
    if stays < _FEW:
        told.append(say("With so few stays on record, most of this is the checklist's"
                        " expectation."))
    return told
