"""Bring recordings of people into the form of `speak.py`, for `calibrate.py` and `gate.py`.

    python people.py FAMILY SOUNDS FOLDER [--count N] [--seed S]

FAMILY is words, whose files are named WORD_TAKE, digits (DIGIT_SPEAKER_TAKE), or a name of
`recorded.PEOPLE` or `calibrate.JUDGES` whose clips have no text that may be said.  SOUNDS is the
folder that holds them.  Writes FAMILY-people.pcm and FAMILY-people.jsonl; what is shorter than 0.2 s
or longer than 12 s is left out.  Imports numpy and the program's reader of sound files.
"""

from __future__ import annotations

import argparse
import json
import random
from pathlib import Path

from benchmarks.hearing import DIGITS
from benchmarks.recordings import read, sounds_in


def main() -> None:
    """Write them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("family")
    parser.add_argument("sounds", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    files = [path for path in sounds_in(asked.sounds) if path.stat().st_size > 4_000]
    random.Random(asked.seed).shuffle(files)
    asked.folder.mkdir(parents=True, exist_ok=True)
    stem, at, kept = asked.folder / f"{asked.family}-people", 0, 0
    with open(f"{stem}.pcm", "wb") as pcm, open(f"{stem}.jsonl", "w", encoding="utf-8") as index:
        for path in files:
            first, *rest = path.stem.split("_")
            text, who = "", asked.family
            if asked.family == "words":
                text, who = first, "many"
            elif asked.family == "digits":
                text, who = DIGITS[int(first)], rest[0]
            wave = read(path)
            if kept == asked.count or not 3200 <= len(wave) <= 192_000:
                continue
            pcm.write(wave.tobytes())
            index.write(json.dumps({"at": at, "n": len(wave), "voice": who, "text": text,
                                    "phones": []}) + "\n")
            at, kept = at + len(wave), kept + 1
    print(kept, "clips")


if __name__ == "__main__":
    main()
