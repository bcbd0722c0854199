"""Which steps a forecast counts: those that the engine would really offer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handsfree.checklist.conditions import opposite
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.review.applying import applying

DEPART = """\
title: Depart
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free}
  chocked: {says: the wheels are chocked, otherwise: the chocks are away, start: true}
gear:
  hose: the hose is out
questions:
  night frost: {ask: "Was there frost?", says: there was frost}
steps:
  - ask: night frost
  - {id: thaw, do: Warm the hose ends., only if: night frost}
  - {id: hose in, do: Bring the hose in., brings back: hose}
  - {id: hitch, do: Couple the trailer., respond: coupler locked, gives: hitched}
  - {id: volts, do: Read the volts., reading: {of: volts, between: [108, 127]}}
  - {id: chocks away, do: Take the chocks away., needs: hitched, ends: chocked}
"""


@pytest.fixture(scope="module")
def depart(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "depart.yaml"
    path.write_text(DEPART, encoding="utf-8")
    return load_checklist(path)


def counted(depart: Checklist, record: set[str], **answers: bool) -> list[str]:
    named = {name.replace("_", " "): answer for name, answer in answers.items()}
    found = applying(depart, frozenset(record), named)
    assert found.complete
    return [step.step for step in found.plan if step.applies]


def test_what_is_not_out_need_not_come_in(depart: Checklist) -> None:
    assert "hose in" not in counted(depart, {"chocked"})
    assert "hose in" in counted(depart, {"chocked", "hose out"})


def test_the_sites_answers_decide(depart: Checklist) -> None:
    assert "thaw" in counted(depart, {"chocked"}, night_frost=True)
    assert "thaw" not in counted(depart, {"chocked"}, night_frost=False)


def test_an_answer_that_is_not_given_is_that_of_last_time(depart: Checklist) -> None:
    answered = {"chocked", "night frost answered"}
    assert applying(depart, frozenset(answered)).answers == {"night frost": False}
    assert applying(depart, frozenset(answered | {"night frost"})).answers == {"night frost": True}


def test_a_question_never_answered_is_taken_the_longer_way(depart: Checklist) -> None:
    assert applying(depart, frozenset({"chocked"})).answers == {"night frost": True}
    shorter = replace(depart, steps={
        name: replace(step, only_if=opposite(step.only_if)) if name == "thaw" else step
        for name, step in depart.steps.items()})
    assert applying(shorter, frozenset({"chocked"})).answers == {"night frost": False}


def test_steps_that_only_an_earlier_one_permits_are_counted(depart: Checklist) -> None:
    found = counted(depart, {"chocked"}, night_frost=False)
    assert found == ["night frost", "hitch", "volts", "chocks away"]


def test_the_plan_keeps_the_checklists_order_and_times(depart: Checklist) -> None:
    found = applying(depart, frozenset({"chocked"}))
    assert [step.step for step in found.plan] == list(depart.order)
    assert all((s.least, s.likely, s.most) == depart.steps[s.step].minutes for s in found.plan)
