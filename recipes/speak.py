"""Have one synthesiser speak a number of texts: samples in NAME.pcm, one line a text in NAME.jsonl.

    python speak.py SYNTHESISER SPLIT FOLDER --count N --seed S [--seconds LIMIT]

SYNTHESISER is espeak, kokoro, piper, flite, festival or hibari.  SPLIT is `train`, or `held` for
the voices that never train.  A line of NAME.jsonl: start and length in samples, voice, text,
phones.  Where the synthesisers' files lie is told by the environment, see README.md.
"""

from __future__ import annotations

import argparse
import gzip
import json
import os
import random
import tempfile
import time
from pathlib import Path

import numpy as np
import phones
import texts
import voices


def words_of(dictionary: Path, lexicon: set[str]) -> list[str]:
    """Words of the CMU dictionary that the lexicon knows too: plain, 2 to 10 letters."""
    found = []
    for line in dictionary.read_text(encoding="utf-8").splitlines():
        word = line.split(" ", 1)[0]
        if 2 <= len(word) <= 10 and word.isalpha() and word in lexicon:
            found.append(word)
    return found


def voice_for(name: str, split: str) -> object:
    """The synthesiser, with training voices or with those held out."""
    held = split == "held"
    if name == "espeak":
        import espeakng_loader

        return voices.Espeak(
            str(espeakng_loader.get_library_path()),
            str(espeakng_loader.get_data_path()),
            list(voices.ESPEAK_HELD_OUT) if held else None,
        )
    if name == "kokoro":
        folder = Path(os.environ["KOKORO"])
        return voices.Kokoro(
            str(folder / "kokoro.onnx"),
            str(folder / "vocab.json"),
            folder / "voices",
            held,
        )
    if name == "piper":
        return voices.Piper(os.environ["PIPER_VOICE"])
    if name == "flite":
        return voices.Flite(["rms", "awb"] if held else ["slt", "kal16", "kal"])
    if name == "festival":
        ours = ["kal_diphone", "cmu_us_slt_arctic_hts"]
        return voices.Festival(["ked_diphone"] if held else ours)
    return voices.Hibari()


def main() -> None:
    """Speak."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("synthesiser")
    parser.add_argument("split", choices=("train", "held"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=1e9, help="stop after so much wall time")
    asked = parser.parse_args()

    from hibari.g2p import G2P

    g2p = G2P(oov=False)
    import hibari

    assets = Path(str(hibari.__file__)).parent / "assets"
    with gzip.open(assets / "lexicon_us_gold.json.gz", "rt", encoding="utf-8") as packed:
        lexicon = set(json.load(packed))
    vocabulary = words_of(Path(os.environ["CMUDICT"]), lexicon)
    rng = random.Random(f"{asked.synthesiser} {asked.split} {asked.seed}")
    voice = voice_for(asked.synthesiser, asked.split)
    asked.folder.mkdir(parents=True, exist_ok=True)
    stem = asked.folder / f"{asked.synthesiser}-{asked.split}-{asked.seed}"
    ends = time.monotonic() + asked.seconds
    at = 0

    def spoken_form(text: str) -> str:
        # A word that the lexicon lacks, and that synthesisers say all the same.
        parts = [str(g2p(part)) if part.strip() else "" for part in text.split("niner")]
        return " nˈInəɹ ".join(parts).replace("❓", "").strip()

    with open(f"{stem}.pcm", "wb") as pcm, open(f"{stem}.jsonl", "w", encoding="utf-8") as index:

        def keep(text: str, spoken: str, wave: voices.Wave, who: str) -> None:
            nonlocal at
            label = phones.from_misaki(spoken)
            long_enough = len(wave) > 16 * 35 * len(label)  # under 35 ms a phone is a failure
            if not label or not long_enough or len(wave) > 5 * voices.RATE:
                return
            pcm.write(wave.tobytes())
            line = {"at": at, "n": len(wave), "voice": who, "text": text, "phones": label}
            index.write(json.dumps(line) + "\n")
            at += len(wave)

        if isinstance(voice, voices.Festival):
            with tempfile.TemporaryDirectory() as folder:
                for _ in range(0, asked.count, 50):
                    if time.monotonic() > ends:
                        break
                    some = [texts.utterance(rng, vocabulary) for _ in range(50)]
                    heard = voice.say_all(some, rng, Path(folder))
                    for text, (wave, who) in zip(some, heard, strict=True):
                        keep(text, spoken_form(text), wave, who)
            return
        for _ in range(asked.count):
            if time.monotonic() > ends:
                break
            text = texts.utterance(rng, vocabulary)
            spoken = spoken_form(text)
            try:
                wave, who = voice.say(text, rng, spoken)
            except (RuntimeError, ValueError, KeyError, OSError) as failure:
                print("skipped", repr(text), failure)
                continue
            keep(text, spoken, np.asarray(wave), who)


if __name__ == "__main__":
    main()
