"""The page speaks the checklist's language: every sentence is there, with the same fields."""

from __future__ import annotations

import ast
import re
import string
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from benchmarks.simulated_journal import Mishaps, session_lines, write_journal
from handsfree.cli import main
from handsfree.review import comparing, translation
from handsfree.review import minutes as spent
from handsfree.review.records import Outcome, PlanStep
from tests.review.book import START

ROOM = Path(translation.__file__).parent
LANGUAGES = sorted(translation.languages() - {"en"})


def asked_for() -> set[str]:
    """Every sentence that the room's code has translated, literal or from a table of them."""
    found: set[str] = set()
    for path in ROOM.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                if node.func.id == "say" and isinstance(node.args[0], ast.Constant):
                    found.add(node.args[0].value)
                if node.func.id == "_said":
                    found |= {arg.value for arg in node.args if isinstance(arg, ast.Constant)}
            if path.name == "charts.py" and isinstance(node, ast.Tuple) and len(node.elts) == 4 and (
                    all(isinstance(e, (ast.Constant, ast.Name)) for e in node.elts)):
                last = node.elts[3]
                if isinstance(last, ast.Constant) and isinstance(last.value, str):
                    found.add(last.value)  # a legend's entry
    found |= {*spent.CAUSES, *spent._NOUNS.values(), *comparing.KINDS, *comparing._SEASONS,
              *(outcome.value for outcome in Outcome), "outside", "inside", "s", "min"}
    return {text for text in found if any(c.isalpha() for c in text)}


def fields(text: str) -> list[tuple[str, str]]:
    return sorted((name, spec or "") for _, name, spec, _ in string.Formatter().parse(text) if name)


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_sentence_is_there_with_the_same_fields(language: str) -> None:
    told = translation.translations(language)
    assert asked_for() - told.keys() == set()
    for english, text in told.items():
        assert fields(english) == fields(text), english
        assert text.strip() or not english.strip()


def test_there_are_the_languages_that_checklists_have() -> None:
    assert LANGUAGES == ["de", "ko"]


def data_in(tmp_path: Path, language: str) -> Path:
    rng = np.random.default_rng(4)
    plan = tuple(PlanStep(name, 0.5, 1.0, 2.5) for name in ("a1", "b2", "c3"))
    for number in range(1, 16):
        lines = session_lines(
            plan, rng.lognormal(5, 0.4, len(plan)), checklist="zz", pause=90.0, rng=rng,
            began=START + timedelta(days=20 * number), place="L1" if number % 2 else "L2",
            mishaps=Mishaps(refusal=0.2, rejection=0.1, skip=0.1, left=0.05))
        lines[0]["language"] = language
        write_journal(tmp_path / "data" / "rigs" / "r", number, lines)
    return tmp_path / "data"


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_page_is_in_the_checklist_s_language(tmp_path: Path, language: str) -> None:
    """No English word of three letters is left, but for names, ids and what the browser reads."""
    data = data_in(tmp_path, language)
    done = CliRunner().invoke(main, ["review", "--html", str(tmp_path / "p.html"),
                                     "--data", str(data)])
    assert done.exit_code == 0, done.output
    text = (tmp_path / "p.html").read_text(encoding="utf-8")
    assert f'<html lang="{language}">' in text
    assert not english_in(text)


def english_in(page: str) -> set[str]:
    seen = re.sub(r"<style>.*?</style>", " ", page, flags=re.S)
    seen = " ".join([*re.findall(r">([^<>]+)<", seen), *re.findall(r'aria-label="([^"]+)"', seen)])
    english = {"the", "and", "stay", "stays", "step", "steps", "minutes", "refused", "took",
               "without", "closed", "session", "sessions", "every", "time", "paused", "active",
               "start", "takes", "planned", "first", "before", "record", "operator"}
    return english & set(re.findall(r"[a-z]{3,}", seen.lower()))


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_forecast_s_page_is_in_it_too(tmp_path: Path, language: str) -> None:
    written = tmp_path / "zz.yaml"
    written.write_text(f"title: ZZ\nlanguage: {language}\nsteps:\n"
                       "  - {id: a1, do: A1., takes: [4, 5, 6]}\n"
                       "  - {id: b2, do: B2., role: inside, takes: [8, 10, 12]}\n")
    done = CliRunner().invoke(main, [
        "forecast", str(written), "--by", "11:00", "--rig", "small-single", "--two", "--operator",
        "Wren", "--without", "b2", "--first", "a1", "--html", str(tmp_path / "p.html"), "--data",
        str(data_in(tmp_path, language))])
    assert done.exit_code == 0, done.output
    text = (tmp_path / "p.html").read_text(encoding="utf-8")
    assert f'<html lang="{language}">' in text and not english_in(text)


def test_an_unknown_language_is_english(tmp_path: Path) -> None:
    data = data_in(tmp_path, "xx")
    CliRunner().invoke(main, ["review", "--html", str(tmp_path / "p.html"), "--data", str(data)])
    assert '<html lang="en">' in (tmp_path / "p.html").read_text(encoding="utf-8")
