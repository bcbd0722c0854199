"""The table of the weights in models/en/MODEL_CARD.md: parameters, checksums, which recipe made them.

    python card.py

A file that was made anew gets a new revision in `MADE_AT`.  Imports numpy.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import numpy as np

MODELS = Path(__file__).resolve().parent.parent / "models"
TABLE = re.compile(r"(?<=<!-- weights -->\n).*?(?=<!-- /weights -->)", re.DOTALL)

MADE_AT = {
    "en/phones.npz": "665501b",
    "en/second.npz": "786d46c",
    "en/third.npz": "786d46c",
    "en/speech.npz": "ce8592f",
    "en/whisper.npz": "786d46c",
    "en/decoder.npz": "1d0c8d5",
    "en/confidence.npz": "9d48f76",
    "gate.npz": "387c0ec",
}
"""Commit of `recipes/` by which each file came about."""

BESIDE = {"heads", "mean", "mel", "spread", "window"}
"""Arrays that no training makes: how many heads, the front end, the scale of the measures."""


def parameters(path: Path) -> int:
    """Weights in a file, steps of quantisation (`#`, `embedding.scale`) and names not counted."""
    with np.load(path) as arrays:
        return sum(arrays[name].size for name in arrays.files
                   if arrays[name].dtype.kind != "U" and name not in BESIDE
                   and not name.endswith("#") and name != "embedding.scale")


def table() -> str:
    """The table in Markdown."""
    rows = ["| file | bytes | parameters | recipe at | SHA-256 |\n|---|---|---|---|---|\n"]
    for name, commit in MADE_AT.items():
        path = MODELS / name
        data = path.read_bytes()
        rows.append(f"| `{name}` | {len(data):,} | {parameters(path):,} | {commit} |"
                    f" `{hashlib.sha256(data).hexdigest()}` |\n")
    return "".join(rows)


def main() -> None:
    """Write it into the model card."""
    card = MODELS / "en" / "MODEL_CARD.md"
    text = card.read_text(encoding="utf-8")
    card.write_text(TABLE.sub(lambda found: table(), text), encoding="utf-8")


if __name__ == "__main__":
    main()
