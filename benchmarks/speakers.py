"""Synthetic speakers that trained no network of ours, as far as this machine has them.

May import the voices' port and the sample format; hibari and flite where they are installed.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.recordings import read
from handsfree.audio import Samples, silence, to_int16
from handsfree.errors import InputError
from handsfree.sound.filters import resample
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions

ESPEAK_VARIANTS = ("f2", "m3", "klatt2", "linda", "steph")
"""Variants of espeak-ng that `recipes/voices.py` keeps out of training.  hibari and flite's rms
are kept out too; a test compares.  The confidence was fitted on these variants, not on those two."""

Say = Callable[[str, random.Random], Samples]
"""Words, and what chance varies of pace, to speech."""


def speakers() -> dict[str, Say]:
    """By name; more of them where hibari-tts and flite are installed."""
    found: dict[str, Say] = {f"espeak {variant}": _espeak(variant) for variant in ESPEAK_VARIANTS}
    try:
        from hibari import Hibari  # type: ignore[import-not-found]
    except ImportError:
        pass
    else:
        found["hibari"] = _hibari(Hibari())
    if shutil.which("flite"):
        found["flite rms"] = _flite
    return found


def check_voices(names: Sequence[str]) -> None:
    """Raises InputError for a voice that is not here."""
    here = speakers() if names else {}
    for name in names:
        if name not in here:
            raise InputError(f"there is no voice '{name}' here; there are: {', '.join(here)}.")


def _espeak(variant: str) -> Say:
    voices: dict[int, Pyttsx3Voice] = {}

    def say(text: str, rng: random.Random) -> Samples:
        rate = rng.choice((130, 150, 175))
        if rate not in voices:
            voices[rate] = Pyttsx3Voice(VoiceOptions("en-us", variant, rate))
        return voices[rate].render(text)

    return say


def _hibari(engine: Callable[..., Any]) -> Say:
    def say(text: str, rng: random.Random) -> Samples:
        wave = engine(text, speed=rng.uniform(0.85, 1.2), seed=rng.getrandbits(30))
        return to_int16(resample(wave, 2, 3) * 20000.0)

    return say


def _flite(text: str, rng: random.Random) -> Samples:
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        stretch = f"duration_stretch={rng.uniform(0.85, 1.2):.2f}"
        subprocess.run(["flite", "-voice", "rms", "--setf", stretch, "-t", text, file.name],
                       check=True)
        return read(Path(file.name))


def framed(speech: Samples, rng: random.Random) -> Samples:
    """Speech with a moment of faint hiss before and after, as an endpointer hands it over."""
    joined = np.concatenate((silence(rng.uniform(0.15, 0.35)), speech, silence(0.35)))
    hiss = np.random.default_rng(rng.getrandbits(32)).normal(0.0, 3.0, len(joined))
    return to_int16(joined + hiss)
