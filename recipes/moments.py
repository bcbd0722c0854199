"""Have a synthesiser's held-out voices say what may be said at moments of the shipped checklists.

    python moments.py SYNTHESISER FOLDER --count N --seed S

Writes NAME.pcm and NAME.jsonl as `speak.py` does, with `what` (commands, hold responses or
readings) besides; for `calibrate.py`.
"""

from __future__ import annotations

import argparse
import json
import random
import tempfile
from pathlib import Path

import voices
from speak import voice_for

from benchmarks.spoken_phrases import commands, readings, responses, shipped_moments
from handsfree.language.loader import load_language


def main() -> None:
    """Speak."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("synthesiser")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()

    from hibari.g2p import G2P

    g2p = G2P(oov=False)
    rng = random.Random(f"moments {asked.synthesiser} {asked.seed}")
    language = load_language("en")
    moments = shipped_moments(language)
    kinds = {
        "commands": sorted(commands(moments, language, rng)),
        "hold responses": sorted(responses(moments)),
        "readings": sorted(readings(moments, language)),
    }
    asked_for = [(what, text) for what, some in kinds.items()
                 for text in rng.choices(some, k=asked.count // 3)]
    rng.shuffle(asked_for)
    said = [text.replace("psi", "P S I") for _, text in asked_for]
    voice = voice_for(asked.synthesiser, "held")
    if isinstance(voice, voices.Festival):
        with tempfile.TemporaryDirectory() as folder:
            heard = voice.say_all(said, rng, Path(folder))
    else:
        heard = []
        for text in said:
            parts = [str(g2p(part)) if part.strip() else "" for part in text.split("niner")]
            spoken = " nˈInəɹ ".join(parts).replace("❓", "").strip()
            heard.append(voice.say(text, rng, spoken))  # type: ignore[attr-defined]
    asked.folder.mkdir(parents=True, exist_ok=True)
    stem, at = asked.folder / f"{asked.synthesiser}-moments-{asked.seed}", 0
    with open(f"{stem}.pcm", "wb") as pcm, open(f"{stem}.jsonl", "w", encoding="utf-8") as index:
        for (what, text), (wave, who) in zip(asked_for, heard, strict=True):
            if not 3200 < len(wave) < 5 * voices.RATE:
                continue
            pcm.write(wave.tobytes())
            index.write(json.dumps({"at": at, "n": len(wave), "voice": who, "text": text,
                                    "phones": [], "what": what}) + "\n")
            at += len(wave)


if __name__ == "__main__":
    main()
