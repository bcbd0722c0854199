"""Whisper's encoder in numpy: what the third network listens through, when an utterance is over.

The encoder of tiny.en (Radford et al., "Robust speech recognition via large-scale weak
supervision", 2022; MIT), trained on very much human speech; `recipes/extract_whisper.py` takes it
out of a package, weights rounded to 8 bits.  It was trained on windows of 30 s; here it gets the
utterance alone, as our network on it was trained.  Imports numpy only.
"""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.hearing.own.features import HOP, Array
from handsfree.hearing.own.layers import Transformer, gelu

WINDOW, BANDS = 400, 80
UNDER = -27.0
"""dB of the noise under each utterance; chosen on human digits (models/en/MODEL_CARD.md)."""

LONGEST = 30.0
"""Seconds of an utterance that are listened to, the first ones: as many as it was trained with."""


@cache
def mel_matrix() -> Array:
    """Triangular filters of equal area on Slaney's mel scale, 0 to 8,000 Hz: (201, BANDS).

    Linear to 1,000 Hz, then 27 bands to a factor of 6.4 (Slaney, Auditory Toolbox, 1998, from
    memory).
    """
    knee, step = 15.0, math.log(6.4) / 27
    mels = np.linspace(0.0, knee + math.log(8.0) / step, BANDS + 2)
    edges = np.where(mels < knee, mels * 200 / 3, 1000 * np.exp(step * (mels - knee)))
    bins = np.arange(WINDOW // 2 + 1)[:, None] * (SAMPLE_RATE / WINDOW)
    rising = (bins - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - bins) / (edges[2:] - edges[1:-1])
    filters = np.maximum(np.minimum(rising, falling), 0.0) * 2 / (edges[2:] - edges[:-2])
    return np.asarray(filters, dtype=np.float32)


@cache
def _hiss() -> Array:
    """White noise of RMS 1, always the same, as long as the longest utterance."""
    count = int(LONGEST * SAMPLE_RATE)
    return np.random.default_rng(1).standard_normal(count).astype(np.float32)


def under_noise(samples: Samples) -> Samples:
    """The utterance with faint white noise under it, `UNDER` dB below its loud parts.

    A recording whose weak sounds a threshold has cut off, with digital silence in their place,
    is heard as if they had never been there; under noise, as if they were masked by it (phonemic
    restoration: Warren, Science 167, 1970, from memory).
    """
    if len(samples) < 320:
        return samples
    sound = samples[: int(LONGEST * SAMPLE_RATE)].astype(np.float32)
    pieces = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    power = (pieces**2).mean(axis=1)
    level = np.sqrt(power[power >= power.max() / 100].mean())
    return to_int16(sound + _hiss()[: len(sound)] * (level * 10 ** (UNDER / 20)))


def log_mel(samples: Samples) -> Array:
    """The encoder's mel frames, one every 10 ms, shape (len(samples) // HOP, BANDS)."""
    held = np.pad(samples.astype(np.float32) / 32768.0, WINDOW // 2)
    windows = np.lib.stride_tricks.sliding_window_view(held, WINDOW)[::HOP]
    hann = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)).astype(np.float32)
    spectrum = np.fft.rfft(windows[: len(samples) // HOP] * hann, WINDOW)
    power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
    heard = np.log10(np.maximum(power @ mel_matrix(), 1e-10))
    heard = np.maximum(heard, heard.max(initial=-10.0) - 8.0)
    return np.asarray((heard + 4.0) / 4.0, dtype=np.float32)


class Encoder(Transformer):
    """path: npz of `recipes/extract_whisper.py`.  Raises InputError when it is none."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, ("conv1.weight", "conv2.weight"))

    def __call__(self, samples: Samples) -> list[Array]:
        """The output of each layer for a whole utterance, (len(samples) // (2 HOP), 384) each."""
        mel = log_mel(samples[: int(LONGEST * SAMPLE_RATE)])
        mel = mel[: len(mel) // 2 * 2]
        if not len(mel):
            width = len(self._w["conv2.bias"])
            return [np.zeros((0, width), dtype=np.float32)] * self._depth
        x = self._convolved(self._convolved(mel, "conv1", 1), "conv2", 2)
        x = x + _places(*x.shape)
        out = []
        for layer in range(self._depth):
            three = self._linear(self._normed(x, f"{layer}.norm1"), f"{layer}.heard")
            found = self._attended(*np.split(three, 3, axis=-1))
            x = x + self._linear(found, f"{layer}.told")
            inner = self._linear(self._normed(x, f"{layer}.norm2"), f"{layer}.into")
            x = x + self._linear(gelu(inner), f"{layer}.back")
            out.append(x)
        return out

    def _convolved(self, x: Array, name: str, stride: int) -> Array:
        edged = np.pad(x, ((1, 1), (0, 0)))
        taps = [edged[tap : tap + len(x) : stride] for tap in range(3)]
        return gelu(self._linear(np.concatenate(taps, -1), name))


def _places(count: int, width: int) -> Array:
    """Sinusoids that say where each frame is, (count, width)."""
    half = width // 2
    rates = np.exp(-math.log(10_000) / (half - 1) * np.arange(half))
    angles = np.arange(count)[:, None] * rates
    return np.concatenate([np.sin(angles), np.cos(angles)], -1).astype(np.float32)
