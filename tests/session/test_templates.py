"""Every language has every sentence, and a sentence uses only fields that are filled in."""

import ast
import re
import string
from pathlib import Path

import pytest

from handsfree.language.loader import language_names, load_language

PACKAGE = Path(__file__).resolve().parents[2] / "handsfree"
ENGINE = PACKAGE / "engine" / "advance.py"


def said_by_the_engine() -> set[str]:
    """Keys of every `Say(...)` in the engine's source."""
    keys = set()
    for node in ast.walk(ast.parse(ENGINE.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Say":
            first = node.args[0]
            if isinstance(first, ast.Constant):
                keys.add(str(first.value))
    return keys


def fields(template: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}


@pytest.mark.parametrize("code", language_names())
def test_a_language_has_every_sentence_of_english_with_the_same_fields(code: str) -> None:
    english, other = load_language("en").templates, load_language(code).templates
    assert set(other) == set(english)
    for key, template in english.items():
        assert fields(other[key]) == fields(template), key


def test_whatever_the_engine_says_has_words() -> None:
    templates = load_language("en").templates
    own = {"opening", "done"}  # worded apart; a tone alone
    for key in said_by_the_engine() - own:
        assert key in templates, key


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
