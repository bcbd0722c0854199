"""Every language has every sentence, and a sentence uses only fields that are filled in."""

import ast
import re
import string
from pathlib import Path

import pytest

from handsfree.checklist.conditions import Literal
from handsfree.checklist.loader import load_checklist
from handsfree.engine.changes import Kind
from handsfree.engine.state import (
    Alarm,
    AskToClose,
    CannotClose,
    Changed,
    Closed,
    Effect,
    Failed,
    Offer,
    Paused,
    Read,
    ReadBack,
    Refused,
    RemedyBegins,
    Reply,
    Reported,
    Respond,
    Say,
    Skip,
    Skipped,
    Suspended,
    WaitBegins,
    Waiting,
)
from handsfree.language.loader import language_names, load_language
from handsfree.session.wording import Wording

PACKAGE = Path(__file__).resolve().parents[2] / "handsfree"


def fields(template: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


@pytest.mark.parametrize("code", language_names())
def test_a_language_has_every_sentence_of_english_with_the_same_fields(code: str) -> None:
    english, other = load_language("en").templates, load_language(code).templates
    assert set(other) == set(english)
    for key, template in english.items():
        assert fields(other[key]) == fields(template), key


STEPS = """\
title: Small stay
facts: {hitched: {says: the trailer is coupled, start: true}}
never:
  - {id: roll, when: not hitched, because: It rolls., now: Chock it., respond: it is chocked,
     gives: hitched}
remedies: {worn: {says: It is worn., steps: [{id: oil, do: Oil it.}], gives up: {says: Stop.}}}
steps:
  - {id: chock, do: Chock both wheels., respond: chocks set, if it fails: worn}
  - {id: look, do: Look at it., waits: {after: chock, minutes: 10}}
"""

HITCHED = (Literal("hitched"),)
EFFECTS: tuple[Effect, ...] = (
    *(Say(reply, "chock", HITCHED, ("chock",)) for reply in Reply),
    *(Reported("roll" if kind is Kind.RESOLVE else "chock", kind, HITCHED, "worn")
      for kind in Kind if kind not in (Kind.BEGIN, Kind.FAIL, Kind.EXPIRE, Kind.CORRECT)),
    *(Failed("chock", band) for band in ("low", "high", "stop", "problem")),
    *(ReadBack(event, "chock") for event in (Respond(), Read("low"), Skip())),
    RemedyBegins("chock", "worn"), Skipped("chock"), Paused("chock"), Suspended("chock", ("chock",)),
    Waiting(("look",)), WaitBegins("look"), CannotClose(HITCHED, ("chock",)),
    CannotClose(HITCHED, ()), AskToClose(("chock",)), Offer("chock"), Refused("chock", HITCHED),
    Alarm("roll"), Closed(), Closed(("chock",)))
"""One at least of each type that is told."""


@pytest.mark.parametrize("code", language_names())
def test_whatever_the_engine_says_has_words(code: str, tmp_path: Path) -> None:
    path = tmp_path / "small.yaml"
    path.write_text(STEPS, encoding="utf-8")
    told = {type(effect) for effect in EFFECTS}
    assert told == set(Effect.__subclasses__()) - {Changed}  # which is for the record alone
    for effect in EFFECTS:
        (prompt,) = Wording(load_checklist(path), load_language(code)).prompts(
            [effect], reading="one", intent="skip this", commands="done", ago="an hour")
        assert prompt.text or prompt.tone == "heard", effect  # a report needs no words
        assert "{" not in prompt.text


def test_no_sentence_of_the_program_hides_in_the_code() -> None:
    """Spoken text is data: the session's code holds no sentence with a full stop."""
    for path in (PACKAGE / "session").glob("*.py"):
        if path.name in ("opening.py", "state_questions_file.py"):
            continue  # errors for the terminal, and what the keys of a file are for
        tree = ast.parse(path.read_text(encoding="utf-8"))
        docs = {ast.get_docstring(n, clean=False) for n in ast.walk(tree)
                if isinstance(n, (ast.Module, ast.ClassDef, ast.FunctionDef))}
        strings = [n.value for n in ast.walk(tree) if isinstance(n, ast.Constant)
                   and isinstance(n.value, str) and n.value not in docs]
        bare = {n.value.value for n in ast.walk(tree) if isinstance(n, ast.Expr)
                and isinstance(n.value, ast.Constant)}
        for text in strings:
            if text not in bare:
                assert not re.search(r"[a-z]{3,} [a-z]{2,} [a-z]+\.", text), (path.name, text)
