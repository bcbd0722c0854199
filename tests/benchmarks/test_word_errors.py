"""Word errors as NIST's sclite counts them."""

from __future__ import annotations

import random
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from benchmarks.tally import word_errors

WORDS = ("skip", "this", "say", "again", "more", "chocks", "set", "one", "two", "and", "a", "half")


@pytest.mark.parametrize(("said", "heard", "errors"), [
    ("chocks set", "chocks set", 0), ("chocks set", "", 2), ("", "why", 1),
    ("chocks set", "boxes set", 1), ("say again", "say it again", 1),
    ("one two", "two one", 2), ("tell me more", "more", 2),
])
def test_by_hand(said: str, heard: str, errors: int) -> None:
    assert word_errors(said.split(), heard.split()) == errors


def test_as_sclite_counts(tmp_path: Path) -> None:
    """sclite (package sctk, NIST's scoring toolkit) on 400 pairs, half of them near each other."""
    sclite = shutil.which("sclite") or shutil.which("sclite", path="/usr/lib/sctk/bin")
    if sclite is None:
        pytest.skip("NIST's sclite is not installed (Debian: sctk)")
    chance = random.Random(3)
    pairs = []
    for number in range(400):
        said = chance.choices(WORDS, k=chance.randint(1, 8))
        heard = list(said) if number % 2 else chance.choices(WORDS, k=chance.randint(1, 8))
        for _ in range(chance.randint(0, 3) if number % 2 else 0):
            at = chance.randrange(len(heard) + 1)
            heard[at : at + chance.randint(0, 1)] = chance.choices(WORDS, k=chance.randint(0, 2))
        pairs.append((said, heard or ["why"]))
    for name, side in (("ref", 0), ("hyp", 1)):
        (tmp_path / name).write_text("".join(
            f"{' '.join(pair[side])} (a_{at:03d})\n" for at, pair in enumerate(pairs)))
    ran = subprocess.run(
        [sclite, "-r", "ref", "trn", "-h", "hyp", "trn", "-i", "rm", "-o", "pralign", "stdout"],
        cwd=tmp_path, capture_output=True, text=True, check=True)
    counted = {}
    each = r"id: \(a_(\d+)\)\nScores: \(#C #S #D #I\) ([\d ]+)"
    for name, scores in re.findall(each, ran.stdout):
        _, *errors = map(int, scores.split())
        counted[int(name)] = sum(errors)
    assert len(counted) == len(pairs), ran.stdout[:500]
    for at, (said, heard) in enumerate(pairs):
        assert word_errors(said, heard) == counted[at], (said, heard)
