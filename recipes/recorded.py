"""What was recorded: outdoor noise in two halves, and people's speech, for training.

The halves are parted once for all that is fitted: what `JUDGE` names is heard by the benchmarks
only.  Imports numpy and soundfile.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.int16]

TRAIN = ("rain", "waves", "city", "wind", "summer-night")
"""Recordings (`outdoors/` of the shared audio) that train networks, gate and confidence."""

JUDGE = ("storm", "boat", "coffee-shop", "fireplace", "birds")
"""Those that only judge."""

PEOPLE = ("words", "calls", "es", "fr", "it", "ru")
"""Names of families of clips that people spoke."""


def noises(folder: Path, names: tuple[str, ...]) -> dict[str, Wave]:
    """Recordings by name, 16 kHz."""
    import soundfile

    found = {}
    for path in sorted(folder.iterdir()):
        if path.stem in names and path.suffix in (".flac", ".wav", ".ogg"):
            wave, rate = soundfile.read(path, dtype="int16")
            if rate != 16_000 or wave.ndim != 1:
                raise SystemExit(f"{path} is not 16 kHz mono")
            found[path.stem] = wave
    return found


def pieces(
    folder: Path, of_each: int, count: int, rng: np.random.Generator
) -> npt.NDArray[np.float32]:
    """`of_each` pieces of `count` samples of every recording in `TRAIN`, each from another place,
    slower or faster, RMS 1: shape (pieces, count)."""
    out = []
    for wave in noises(folder, TRAIN).values():
        for _ in range(of_each):
            at = rng.integers(len(wave)) + np.arange(count) * rng.uniform(0.75, 1.3)
            low = at.astype(int)
            first = np.take(wave, low, mode="wrap").astype(np.float32)
            second = np.take(wave, low + 1, mode="wrap").astype(np.float32)
            piece = first + (at - low).astype(np.float32) * (second - first)
            out.append(piece / (np.sqrt(np.mean(piece**2)) + 1e-9))
    return np.stack(out)


def clips(folders: list[Path]) -> dict[str, list[Wave]]:
    """Waves by family, of NAME.pcm (or NAME.ogg) with NAME.jsonl as `speak.py` writes them."""
    found: dict[str, list[Wave]] = {}
    for folder in folders:
        for index in sorted(folder.glob("*.jsonl")):
            wave = samples(index)
            for line in index.read_text(encoding="utf-8").splitlines():
                clip = json.loads(line)
                piece = wave[clip["at"] : clip["at"] + clip["n"]]
                if len(piece) == clip["n"]:
                    found.setdefault(index.stem.split("-")[0], []).append(piece)
    return found


def samples(index: Path) -> Wave:
    """The sound that belongs to NAME.jsonl."""
    if index.with_suffix(".pcm").exists():
        return np.fromfile(index.with_suffix(".pcm"), dtype=np.int16)
    import soundfile

    return np.asarray(soundfile.read(index.with_suffix(".ogg"), dtype="int16")[0])
