"""Sound files and folders of them, as they are named on the command line of a benchmark.

May import the sample format, mixing and errors; soundfile late.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.errors import InputError
from handsfree.sound.filters import resample
from handsfree.sound.mixing import SEAM, looped

KINDS = (".flac", ".wav")

_DIGIT = re.compile(r"([0-9])_([^_]+)_.+")


def sounds_in(folder: Path) -> list[Path]:
    """The sound files of a folder, by name.

    Raises:
        InputError: no folder, none in it, or one that cannot be opened.
    """
    import soundfile

    if not folder.is_dir():
        raise InputError(f"there is no folder {folder}; check the path.")
    found = sorted(path for path in folder.iterdir() if path.suffix.lower() in KINDS)
    if not found:
        raise InputError(f"there are no .flac or .wav files in {folder}; give the folder that"
                         " holds the recordings themselves.")
    for path in found:  # now, not after an hour
        try:
            soundfile.info(path)
        except (soundfile.SoundFileError, OSError) as error:
            raise InputError(f"{path} is no sound file that can be read ({error}); take it out of"
                             " the folder.") from error
    return found


def digits_in(folder: Path) -> list[tuple[Path, int, str]]:
    """The recordings of single digits: (file, digit, speaker), from DIGIT_SPEAKER_TAKE.flac.

    Raises:
        InputError: no folder, none in it, or one that is named otherwise.
    """
    found = []
    for path in sounds_in(folder):
        named = _DIGIT.fullmatch(path.stem)
        if named is None:
            raise InputError(f"{path} is not named DIGIT_SPEAKER_TAKE.flac, such as 7_anna_03.flac;"
                             " rename it or take it out of the folder.")
        found.append((path, int(named[1]), named[2]))
    return found


def read(path: Path) -> Samples:
    """A sound file as 16 kHz mono.

    Raises:
        InputError: it cannot be read, or there is nothing in it.
    """
    import soundfile

    if not path.is_file():
        raise InputError(f"there is no sound file {path}; check the path.")
    try:
        sound, rate = soundfile.read(path, dtype="float64", always_2d=True)
    except (soundfile.SoundFileError, OSError) as error:
        raise InputError(f"{path} is no sound file that can be read ({error}).") from error
    if not len(sound):
        raise InputError(f"{path} holds no sound; take it out of the folder.")
    mono = sound.mean(axis=1)
    if rate != SAMPLE_RATE:
        step = int(np.gcd(rate, SAMPLE_RATE))
        mono = resample(mono, SAMPLE_RATE // step, rate // step)
    return to_int16(mono * 32767.0)


def without_end(path: Path, start: int = 0) -> Callable[[int], Samples]:
    """A recording over and over, its end faded into its start, as a stream from sample `start` on.

    Raises:
        InputError: it cannot be read, or is shorter than a second.
    """
    sound = read(path)
    if len(sound) < SAMPLE_RATE:
        raise InputError(f"{path} is shorter than a second; give a longer recording of noise.")
    period = len(sound) - round(SEAM * SAMPLE_RATE)
    again, place = looped(sound, period + len(sound))[-period:], start

    def pull(count: int) -> Samples:
        nonlocal place
        piece = np.take(again, np.arange(place, place + count), mode="wrap")
        place = (place + count) % period
        return piece

    return pull
