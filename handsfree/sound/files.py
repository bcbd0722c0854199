"""Sound in files: WAV and FLAC in, stereo WAV out.

May import numpy, soundfile, this room's filters, ``handsfree.audio`` and ``handsfree.errors``.
"""

from __future__ import annotations

from math import gcd
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.errors import InputError, StorageError
from handsfree.sound.filters import resample


def read_sound(path: Path | str) -> Samples:
    """A file as 16 kHz int16 mono, shape ``(n,)``.

    Channels are averaged; another rate is converted by `resample`.

    Args:
        path: WAV, FLAC, AIFF or what else libsndfile reads.

    Raises:
        InputError: missing, not sound, or no sound in it.
    """
    path = Path(path)
    if not path.is_file():
        raise InputError(f"there is no sound file “{path}”; check the path.")
    try:
        sound, rate = soundfile.read(path, dtype="float64", always_2d=True)
    except (soundfile.LibsndfileError, OSError, RuntimeError) as error:
        raise InputError(f"“{path}” cannot be read as sound; give a WAV or FLAC file.") from error
    if not len(sound) or not np.all(np.isfinite(sound)):
        raise InputError(f"“{path}” has no usable sound in it; record it again.")
    mono = np.mean(sound, axis=1)
    if rate != SAMPLE_RATE:
        common = gcd(rate, SAMPLE_RATE)
        mono = resample(mono, SAMPLE_RATE // common, rate // common)
    return to_int16(mono * 32768.0)


def write_stereo(path: Path | str, left: Samples, right: Samples) -> None:
    """Two voices as one stereo WAV, 16 kHz 16-bit; the shorter side is filled with silence.

    Args:
        path: the file; its folder must exist.
        left: the operator, shape ``(n,)``.
        right: the program, shape ``(m,)``.

    Raises:
        StorageError: it cannot be written.
    """
    both = np.zeros((max(len(left), len(right)), 2), dtype=np.int16)
    both[: len(left), 0] = left
    both[: len(right), 1] = right
    _write(Path(path), both)


def write_mono(path: Path | str, samples: Samples) -> None:
    """One voice as mono WAV, 16 kHz 16-bit.

    Raises:
        StorageError: it cannot be written.
    """
    _write(Path(path), samples)


def _write(path: Path, sound: npt.NDArray[np.int16]) -> None:
    try:
        soundfile.write(path, sound, SAMPLE_RATE, subtype="PCM_16", format="WAV")
    except (soundfile.LibsndfileError, OSError, RuntimeError) as error:
        raise StorageError(
            f"“{path}” cannot be written; check that its folder exists and has room."
        ) from error
