"""docs/glossary.md: the trade's words stand in what is spoken, and their neighbours do not.

Own choice of words: American trade usage, from memory."""

from __future__ import annotations

import re
from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.language.loader import load_language
from handsfree.storage.paths import checklist_names, checklists_folder
from tests.checklists.test_content import spoken

GLOSSARY = Path(__file__).parents[2] / "docs" / "glossary.md"


def rows() -> list[tuple[list[str], list[str]]]:
    """(words that are said, words that are not), a row of the table each."""
    cells = [[cell.strip() for cell in line.strip("|").split("|")]
             for line in GLOSSARY.read_text(encoding="utf-8").splitlines() if line.startswith("|")][2:]
    return [([word.strip() for word in said.split(",")], [word.strip() for word in unsaid.split(",") if word.strip()])
            for said, _, unsaid in cells]


def all_that_is_spoken() -> str:
    """Every sentence of every list for every rig, and every template; names of steps may be said
    either way, since records keep the British spelling."""
    lists = [load_checklist(checklists_folder() / f"{name}.yaml", library=checklists_folder())
             for name in checklist_names()]
    names = {name for each in lists for step in each.steps.values() for name in step.spoken_names}
    return "\n".join([*(text for each in lists for text in spoken(each) if text not in names),
                      *load_language("en").templates.values()]).lower()


def has(word: str, text: str) -> bool:
    return re.search(rf"\b{re.escape(word.lower())}s?\b", text) is not None


def test_no_word_that_the_glossary_keeps_out_is_spoken() -> None:
    text = all_that_is_spoken()
    found = [word for _, unsaid in rows() for word in unsaid if has(word, text)]
    assert not found, found
    assert has("chock", text) and not has("tyre", text)  # it looks, and at what is spoken


def test_each_word_of_the_glossary_is_the_trades_own_in_the_lists() -> None:
    """But for what only these pages call so."""
    text = all_that_is_spoken()
    ours = {"hold point", "readback", "interlock", "never rule", "sway bar", "kingpin"}
    missing = [word for said, _ in rows() for word in said if word not in ours and not has(word, text)]
    assert not missing, missing
