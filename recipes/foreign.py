"""Have espeak-ng say words of other languages: speech that is never a command, for `calibrate.py`.

    python foreign.py FOLDER --count N --seed S

Writes NAME.pcm and NAME.jsonl as `speak.py` does, every text empty.  The words are numbers, dates
and sums of money of 16 languages, as `num2words` writes them: one word or several.
"""

from __future__ import annotations

import argparse
import json
import random
from pathlib import Path

import espeakng_loader
import voices
from num2words import num2words

LANGUAGES = ("cs", "da", "de", "es", "fr", "hu", "it", "lt", "nl", "no", "pl", "pt", "ro", "ru",
             "sv", "tr")  # fmt: skip


def main() -> None:
    """Speak."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = random.Random(asked.seed)
    voice = voices.Espeak(
        str(espeakng_loader.get_library_path()), str(espeakng_loader.get_data_path()))
    asked.folder.mkdir(parents=True, exist_ok=True)
    stem = asked.folder / f"espeak-foreign-{asked.seed}"
    at = 0
    with open(f"{stem}.pcm", "wb") as pcm, open(f"{stem}.jsonl", "w", encoding="utf-8") as index:
        for _ in range(asked.count):
            language = rng.choice(LANGUAGES)
            highest = 20 if rng.random() < 0.7 else 2000
            words = num2words(rng.randint(0, highest), lang=language)
            name = {"no": "nb", "fr": "fr-fr"}.get(language, language)
            wave, who = voice.say(words, rng, "", name)
            if not 3200 < len(wave) < 5 * voices.RATE:
                continue
            pcm.write(wave.tobytes())
            line = {"at": at, "n": len(wave), "voice": who, "text": "", "phones": []}
            index.write(json.dumps(line) + "\n")
            at += len(wave)


if __name__ == "__main__":
    main()
