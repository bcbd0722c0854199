"""Whether each test can fail, each stop stops, each word is enough, and each motion is declared.

May import the checklist model, conditions, sums and this room's findings.  All of it can be seen in
the files, without exploring.

What it rests on:

- A check that cannot come out as no is no check: failing has to be possible, noticed, and to block
  what depends on it (Leveson and Thomas, STPA Handbook, 2018, chapter 2: a control action not
  given, or stopped too soon).
- A forbidding answer is final until the cause is gone (ISO 14118:2017, prevention of unexpected
  start-up: a stop command prevails over a start command; from memory).
- A fact that guards somebody is reported by its own words and not by a word that is said thirty
  times an hour: challenge and response (Degani and Wiener, NASA CR-177549, 1990, guidelines, from
  memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from handsfree.checklist.conditions import NEVER, given
from handsfree.checklist.model import Checklist, Step
from handsfree.checklist.sums import SUMS
from handsfree.proof.findings import Finding


def judged(checklist: Checklist) -> Iterator[Finding]:
    """Everything that is wrong with a checklist's own tests, stops, words and motions."""
    guarding = frozenset().union(*(rule.when.names() for rule in checklist.all_rules))
    for step in checklist.steps.values():
        if step.question:
            continue
        yield from _cannot_fail(checklist, step)
        yield from _bare_done(step, guarding)
        yield from _undeclared(checklist, step)
        yield from _gives_itself(checklist, step)
        yield from _unstopped(checklist, step)


def _finding(kind: str, step: Step, message: str) -> Finding:
    return Finding(kind, message, step.file, step.line, subject=step.id)


def _cannot_fail(checklist: Checklist, step: Step) -> Iterator[Finding]:
    shows = bool(step.gives & checklist.evidence.keys())
    if (step.tests or shows) and checklist.failing(step) is None:
        yield _finding("cannot fail", step, (
            f"'{step.id}' asks, looks or reads, and nothing follows when the answer is no; add"
            " 'if no:' with what to do then, or 'if it fails:' with a remedy."))


def _bare_done(step: Step, guarding: frozenset[str]) -> Iterator[Finding]:
    changed = sorted((step.gives | step.ends) & guarding)
    if changed and not step.hold and not step.reading:
        yield _finding("bare done", step, (
            f"'{step.id}' settles '{changed[0]}', which a never rule hangs on, by a mere 'done';"
            " add 'respond:' with words of its own."))


def _undeclared(checklist: Checklist, step: Step) -> Iterator[Finding]:
    for act in checklist.acts.values():
        if act.words and act.name not in step.acts and re.search(act.words, step.do, re.I):
            key = "moves" if act.motion else "exposes"
            yield _finding("undeclared motion", step, (
                f"the words of '{step.id}' say that {act.says}, and it declares nothing of the"
                f" kind; add '{key}: [{act.name}]', or word it otherwise."))


def _gives_itself(checklist: Checklist, step: Step) -> Iterator[Finding]:
    """No way of failing may settle what succeeding would have settled."""
    for name in dict.fromkeys(name for name in (step.remedy, step.stop) if name):
        remedy = checklist.remedies[name]
        wrong = sorted((remedy.gives | remedy.shows) & step.gives)
        if wrong:
            yield _finding("failed and so", step, (
                f"when '{step.id}' fails, the remedy '{name}' makes '{wrong[0]}' true all the same;"
                " give another fact that says what is really so."))


def _unstopped(checklist: Checklist, step: Step) -> Iterator[Finding]:
    """What a verdict forbids is the motion that the remedy would go on with, and all that is work
    for it."""
    if step.reading is None or not step.sum or not SUMS[step.sum].stops:
        return
    own = checklist.remedies[step.remedy].steps if step.remedy else ()
    going_on = frozenset().union(*(
        checklist.steps[name].acts for name in own
        if any(checklist.acts[act].motion for act in checklist.steps[name].acts)))
    if not going_on:
        return
    if not step.stop:
        yield _finding("stop undone", step, (
            f"what '{step.id}' comes to can say do not, and the remedy '{step.remedy}' then goes on"
            " with it; add 'if it stops:' with a remedy of its own."))
        return
    stop = checklist.remedies[step.stop]
    barred = dict.fromkeys(stop.shows, True) | dict.fromkeys(stop.denies, False)
    for name in dict.fromkeys((*stop.steps, *own)):
        inner = checklist.steps[name]
        if inner.acts & going_on and given(inner.needs, barred) != NEVER:
            yield _finding("stop undone", step, (
                f"after '{step.id}' has said do not, '{name}' can still be done; let the remedy"
                f" '{step.stop}' show a fact that forbids it."))
