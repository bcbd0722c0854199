"""Questions about a rig as a checklist, so that they are asked by voice like any other step.

Pure.  May import the checklist model and its first questions, the engine's state, language and
wording.  A number is offered with its default first; only if that is not right, it is read out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction
from typing import Any

from handsfree.checklist.conditions import Condition, Literal, both
from handsfree.checklist.first import Answers, Question
from handsfree.checklist.model import Checklist, Fact, Origin, Reading, Step, answered_fact
from handsfree.language.model import Language
from handsfree.language.readings import Reading as Value
from handsfree.language.readings import say_reading
from handsfree.session.wording import Wording


def interview(
    questions: Sequence[Question], known: Iterable[str], language: Language
) -> Checklist:
    """The questions as a checklist; numbers in units that are not spoken keep their defaults.

    Args:
        known: traits that the rig has, as far as that was answered before.
    """
    empty = Checklist("first-questions", "", {}, {}, ())
    say = Wording(empty, language).say
    facts: dict[str, Fact] = {name: Fact(name, Origin.TRAIT) for name in known}
    steps: dict[str, Step] = {}

    def ask(name: str, text: str, only_if: Condition) -> None:
        facts[name] = Fact(name, Origin.SITE, says=name)
        facts[answered_fact(name)] = Fact(answered_fact(name), Origin.ANSWERED, says=name)
        steps[name] = Step(name, text, only_if=only_if, question=True, gives=frozenset({name}))

    for question in questions:
        mentioned = sorted(question.only_if.names())
        for name in mentioned:
            facts.setdefault(name, Fact(name, Origin.TRAIT))
        only_if = both(question.only_if, *(
            Literal(answered_fact(name)) for name in mentioned if name in steps))
        limit = question.limit
        if limit is None:
            ask(question.id, question.text, only_if)
        elif limit.unit in language.units:
            usual = say_reading(Value(Fraction(str(limit.default)), limit.unit), language)
            keep = _keep(question.id)
            ask(keep, say("first.take", ask=question.text, reading=usual).text, only_if)
            number = f"{question.id} number"
            steps[number] = Step(
                number, question.text, reading=Reading(limit.unit), only_if=both(
                    only_if, Literal(keep, False), Literal(answered_fact(keep))))
    return Checklist(
        id=empty.id, title=say("first.title").text, facts=facts, steps=steps, order=tuple(steps),
        says=say("first.says").text, closing=say("first.closing").text, language=language.code)


def answers(
    questions: Iterable[Question], facts: frozenset[str], lines: Iterable[Mapping[str, Any]]
) -> Answers:
    """What was answered, from the facts at the end and the lines of the log."""
    read = {str(line["step"]): float(line["value"]) for line in lines if line["what"] == "reading"}
    asked = [question for question in questions if question.only_if.holds(facts)]
    return Answers(
        frozenset(question.id for question in asked
                  if question.limit is None and question.id in facts),
        {question.id: question.limit.default if _keep(question.id) in facts
         else read.get(f"{question.id} number", question.limit.default)
         for question in asked if question.limit})


def _keep(limit: str) -> str:
    return f"keep {limit}"
