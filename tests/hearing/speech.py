"""Speech and noise for the hearing tests: espeak-ng by ctypes, and noises with a fixed seed."""

from __future__ import annotations

import ctypes
import functools
import os
import pickle
from collections.abc import Callable

import espeakng_loader
import numpy as np
from scipy.signal import resample_poly

from handsfree.audio import SAMPLE_RATE, Samples, silence, to_int16

_Callback = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)


def _spoken(text: str, voice: str, rate: int, pitch: int) -> tuple[int, bytes]:
    """Sample rate and samples of 16 bits; only ever called in a process of its own."""
    library = ctypes.CDLL(espeakng_loader.get_library_path())
    native = library.espeak_Initialize(2, 0, espeakng_loader.get_data_path().encode(), 0)
    pieces: list[bytes] = []

    def take(wav: ctypes._Pointer[ctypes.c_short], count: int, _events: int) -> int:
        if wav and count > 0:
            pieces.append(ctypes.string_at(wav, count * 2))
        return 0

    callback = _Callback(take)
    library.espeak_SetSynthCallback(callback)
    if library.espeak_SetVoiceByName(voice.encode()):
        return 0, b""
    library.espeak_SetParameter(1, rate, 0)
    library.espeak_SetParameter(3, pitch, 0)
    data = text.encode() + b"\0"
    library.espeak_Synth(data, len(data), 0, 0, 0, 1, None, None)
    library.espeak_Synchronize()
    return native, b"".join(pieces)


@functools.cache
def say(text: str, voice: str = "en-us", rate: int = 160, pitch: int = 50) -> Samples:
    """What espeak-ng says, at 16 kHz, with 0.4 s of silence before and 1 s after.

    In a process of its own, since what it says hangs on all that it said before.
    """
    native, samples = _alone(lambda: _spoken(text, voice, rate, pitch))
    if not native:
        raise ValueError(f"no voice {voice}")
    sound = np.frombuffer(samples, dtype=np.int16).astype(np.float64)
    common = np.gcd(native, SAMPLE_RATE)
    sound = resample_poly(sound, SAMPLE_RATE // common, native // common)
    return np.concatenate((silence(0.4), to_int16(sound), silence(1.0)))


def _alone(work: Callable[[], tuple[int, bytes]]) -> tuple[int, bytes]:
    ours, theirs = os.pipe()
    child = os.fork()
    if not child:
        try:
            with open(theirs, "wb") as out:
                out.write(pickle.dumps(work()))
        finally:
            os._exit(0)
    os.close(theirs)
    with open(ours, "rb") as told:
        found: tuple[int, bytes] = pickle.loads(told.read())
    os.waitpid(child, 0)
    return found


def noise(kind: str, seconds: float, seed: int = 1) -> np.ndarray:
    """Noise of unit RMS: "white", "pink", "wind" (gusts of low rumble) or "engine" (idling)."""
    random = np.random.default_rng(seed)
    wanted = int(seconds * SAMPLE_RATE)
    n = max(wanted, 10 * SAMPLE_RATE)
    white = random.standard_normal(n)
    frequency = np.fft.rfftfreq(n, 1 / SAMPLE_RATE)
    time = np.arange(n) / SAMPLE_RATE
    spectrum = np.fft.rfft(white)
    if kind == "white":
        sound = white
    elif kind == "pink":
        sound = np.fft.irfft(spectrum / np.sqrt(np.maximum(frequency, 20.0)), n)
    elif kind == "wind":
        sound = np.fft.irfft(spectrum / np.maximum(frequency, 30.0) ** 1.1, n)
        slow = np.fft.rfft(random.standard_normal(n)) * (frequency < 0.7)
        gust = np.fft.irfft(slow, n)
        sound = sound * np.exp(0.7 * gust / gust.std())
    elif kind == "engine":
        phase = 2 * np.pi * np.cumsum(28.0 + 1.5 * np.sin(2 * np.pi * 0.4 * time)) / SAMPLE_RATE
        sound = sum(np.cos(k * phase + k * k) / k**0.8 for k in range(1, 40))
        rough = np.fft.irfft(spectrum / np.sqrt(np.maximum(frequency, 60.0)), n)
        sound = sound / np.std(sound) + 0.6 * rough / rough.std()
    else:
        raise ValueError(kind)
    sound = sound[:wanted]
    return sound / np.sqrt(np.mean(sound**2))


def speech_level(sound: Samples) -> float:
    """RMS over the frames that carry speech (within 30 dB of the loudest)."""
    frames = sound[: len(sound) // 320 * 320].astype(np.float64).reshape(-1, 320)
    power = np.mean(frames**2, axis=1)
    return float(np.sqrt(np.mean(power[power > power.max() / 1000])))


def in_noise(sound: Samples, kind: str, snr_db: float, seed: int = 1) -> Samples:
    """The same sound with noise under it, at a signal-to-noise ratio over the spoken part."""
    under = noise(kind, len(sound) / SAMPLE_RATE + 0.01, seed)[: len(sound)]
    scale = speech_level(sound) / 10 ** (snr_db / 20)
    return to_int16(sound.astype(np.float64) + scale * under)
