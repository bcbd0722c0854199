"""A small checklist of its own for the session's tests."""

from pathlib import Path

import pytest

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.language.loader import load_language
from handsfree.language.model import Language

SMALL = """\
title: Small stay
closing: Rest well.
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked}
  outlet good: the outlet is good
gear:
  hose: the hose is out
never:
  - id: roll
    when: not hitched and not chocked
    because: Nothing would hold the trailer
    now: Keep clear and chock the wheels
    respond: wheels are chocked
    gives: chocked
questions:
  water here: {ask: "Is there water?", says: there is water}
remedies:
  bad outlet:
    says: That outlet is bad.
    steps:
      - {id: other outlet, do: Move to the other outlet.}
    gives up: {says: Stop. Do not connect.}
steps:
  - ask: water here
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked, names: [chocks]}
  - {id: pull away, do: Pull the truck away, needs: chocked, ends: hitched,
     caution: Nobody between truck and trailer}
  - {id: volts, do: Read the volts., gives: outlet good,
     reading: {of: volts, between: [108, 127]}, if it fails: bad outlet}
  - {id: hose, do: Connect the hose., only if: water here, puts out: hose}
  - {id: mat, do: Lay the mat out.}
"""


@pytest.fixture(scope="session")
def english() -> Language:
    return load_language("en")


@pytest.fixture(scope="session")
def small_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("lists") / "small.yaml"
    path.write_text(SMALL, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def small(small_path: Path) -> Checklist:
    return load_checklist(small_path)
