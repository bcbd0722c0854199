"""The model card says of each file of weights what it is: parameters, checksum, recipe."""

import hashlib
import re
import runpy
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
CARD = (ROOT / "models" / "en" / "MODEL_CARD.md").read_text(encoding="utf-8")
ROWS = {name: (int(size.replace(",", "")), int(count.replace(",", "")), commit, checksum)
        for name, size, count, commit, checksum in re.findall(
            r"^\| `([\w/]+\.npz)` \| ([\d,]+) \| ([\d,]+) \| ([0-9a-f]{7}) \| `([0-9a-f]{64})` \|$",
            CARD, re.MULTILINE)}


def test_every_file_of_weights_has_its_row() -> None:
    found = {str(path.relative_to(ROOT / "models")) for path in (ROOT / "models").rglob("*.npz")}
    assert set(ROWS) == found


@pytest.mark.parametrize("name", sorted(ROWS))
def test_a_file_is_the_one_that_the_card_names(name: str) -> None:
    size, _, _, checksum = ROWS[name]
    data = (ROOT / "models" / name).read_bytes()
    assert len(data) == size
    assert hashlib.sha256(data).hexdigest() == checksum, "made anew? python recipes/card.py"


def test_the_table_is_what_the_recipe_writes() -> None:
    assert runpy.run_path(str(ROOT / "recipes" / "card.py"))["table"]() in CARD


def test_the_words_of_the_card_give_the_same_numbers() -> None:
    """Millions of parameters as the first paragraph tells them, to its own precision."""
    first = re.sub(r"\s+", " ", CARD[:CARD.index("**Open vocabulary.**")])
    for name in ("phones", "second", "speech", "third", "whisper", "decoder"):
        after = first[first.index(f"`{name}.npz`"):]
        said = re.search(r"([\d.]+) million parameters", after)
        assert said is not None, name
        digits = len(said[1].partition(".")[2])
        assert round(ROWS[f"en/{name}.npz"][1] / 1e6, digits) == float(said[1]), name
    with np.load(ROOT / "models" / "en" / "decoder.npz") as arrays:
        table = re.search(r"([\d.]+) of them the table of its ([\d,]+) tokens", first)
        assert table is not None
        assert round(arrays["embedding"].size / 1e6, 1) == float(table[1])
        assert len(arrays["tokens"]) == int(table[2].replace(",", ""))
