"""Noises under which the network is trained, made from numbers.

These are not the noises of `handsfree.sound.noise`, with which it is measured: each is drawn with
other shapes and every piece has its own corner frequencies, slopes, rates and strengths.  Imports
numpy only.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

RATE = 16_000
Wave = npt.NDArray[np.float32]


def shaped(rng: np.random.Generator, count: int, gain: npt.NDArray[np.float64]) -> Wave:
    """White noise of `count` samples whose spectrum is multiplied by `gain` (count // 2 + 1)."""
    spectrum = np.fft.rfft(rng.standard_normal(count)) * gain
    return unit(np.fft.irfft(spectrum, count))


def unit(wave: npt.NDArray[np.floating]) -> Wave:
    """The same with RMS 1."""
    return (wave / (np.sqrt(np.mean(wave**2)) + 1e-9)).astype(np.float32)


def hertz(count: int) -> npt.NDArray[np.float64]:
    """Frequencies of the bins of `shaped`."""
    return np.fft.rfftfreq(count, 1 / RATE) + 1e-3


def swell(rng: np.random.Generator, count: int, fastest: float, depth: float) -> Wave:
    """A positive, slowly changing strength: exp of low-pass noise, `depth` its deviation."""
    coarse = count // 160 + 2
    slow = np.fft.rfft(rng.standard_normal(coarse))
    slow *= np.fft.rfftfreq(coarse, 0.01) < fastest
    walk = np.fft.irfft(slow, coarse)
    walk = depth * walk / (np.std(walk) + 1e-9)
    points = np.interp(np.arange(count) / 160, np.arange(coarse), walk)
    return np.exp(points).astype(np.float32)


def coloured(rng: np.random.Generator, count: int) -> Wave:
    """From white over pink to brown."""
    return shaped(rng, count, np.maximum(hertz(count), 20) ** -(rng.uniform(0, 2.2) / 2))


def wind(rng: np.random.Generator, count: int) -> Wave:
    """Rumble that falls steeply from a random corner, gusts, and a rush that comes with them."""
    at = hertz(count)
    corner, slope = rng.uniform(25, 250), rng.uniform(1, 3)
    low = shaped(rng, count, at / (at + 15) / (1 + (at / corner) ** 2) ** (slope / 2))
    rush = shaped(rng, count, 1 / (1 + (at / rng.uniform(300, 2000)) ** 2))
    gust = swell(rng, count, rng.uniform(0.2, 6), rng.uniform(0.2, 0.9))
    return unit(low * gust + rng.uniform(0.02, 0.5) * rush * gust ** rng.uniform(1, 2.5))


def engine(rng: np.random.Generator, count: int) -> Wave:
    """Harmonics of a firing rate with wandering speed, and a clatter in its beat."""
    rate = rng.uniform(12, 130) * swell(rng, count, 1.5, rng.uniform(0.002, 0.12))
    angle = 2 * np.pi * np.cumsum(rate) / RATE
    out = np.zeros(count)
    fall = rng.uniform(0.3, 1.6)
    for number in range(1, 40):
        if number * float(np.max(rate)) > 5000:
            break
        out += rng.uniform(0.1, 1) * number**-fall * np.cos(number * angle + rng.uniform(0, 6.28))
    at = hertz(count)
    clatter = shaped(rng, count, (at > 150) / (1 + (at / rng.uniform(500, 4000)) ** 2))
    beat = 1 + rng.uniform(0, 0.9) * np.cos(angle)
    level = swell(rng, count, 4, rng.uniform(0, 0.2))
    return unit((unit(out) + rng.uniform(0.1, 1.0) * clatter * beat) * level)


def rain(rng: np.random.Generator, count: int) -> Wave:
    """Hiss, and drops that ring."""
    at = hertz(count)
    out = shaped(rng, count, at / (at + rng.uniform(300, 4000))) * rng.uniform(0.2, 1)
    for _ in range(4):
        drops = np.zeros(count)
        where = rng.integers(0, count, int(rng.uniform(5, 400) * count / RATE))
        drops[where] = rng.exponential(1.0, len(where))
        centre = rng.uniform(400, 6000)
        width = centre * rng.uniform(0.05, 0.5)
        ring = np.fft.irfft(np.fft.rfft(drops) / (1 + 1j * (at - centre) / width), count)
        out = out + rng.uniform(0, 0.6) * unit(ring)
    return unit(out)


def tones(rng: np.random.Generator, count: int) -> Wave:
    """Mains hum, warning beeps, birds."""
    time = np.arange(count) / RATE
    out = 0.05 * shaped(rng, count, np.ones(count // 2 + 1))
    if rng.random() < 0.5:
        base = rng.choice([50.0, 60.0, 100.0, 120.0])
        for number in range(1, 12):
            out += rng.uniform(0, 1) / number * np.sin(2 * np.pi * base * number * time)
    for _ in range(rng.integers(4, 40)):
        start, long = rng.integers(0, count), int(rng.uniform(0.04, 0.5) * RATE)
        long = min(long, count - start)
        inside = np.arange(long) / RATE
        sweep = rng.uniform(800, 6500) * (1 + rng.uniform(-2, 2) * inside)
        vibrato = rng.uniform(0, 20) * np.sin(2 * np.pi * rng.uniform(5, 40) * inside)
        burst = np.sin(2 * np.pi * np.cumsum(sweep) / RATE + vibrato) * np.hanning(long)
        out[start : start + long] += rng.uniform(0.3, 2) * burst
    return unit(out)


def clanks(rng: np.random.Generator, count: int) -> Wave:
    """Things of metal and wood that knock: decaying resonances at random times, over a hiss."""
    out = rng.uniform(0.02, 0.3) * coloured(rng, count)
    for _ in range(int(rng.uniform(0.5, 6) * count / RATE)):
        start, long = rng.integers(0, count), int(rng.uniform(0.03, 0.4) * RATE)
        long = min(long, count - start)
        inside = np.arange(long) / RATE
        knock = np.zeros(long)
        for _ in range(rng.integers(2, 7)):
            tone = np.sin(2 * np.pi * rng.uniform(150, 6000) * inside + rng.uniform(0, 6))
            knock += rng.uniform(0.2, 1) * tone * np.exp(-inside * rng.uniform(8, 120))
        out[start : start + long] += rng.exponential(2.0) * knock
    return unit(out)


def babble(rng: np.random.Generator, count: int, speech: list[Wave]) -> Wave:
    """3 to 9 speakers at once, made of clips of the training speech."""
    out = np.zeros(count, dtype=np.float32)
    for _ in range(rng.integers(3, 10)):
        at, strength = int(rng.integers(0, RATE)), rng.uniform(0.3, 1)
        while at < count:
            clip = speech[rng.integers(0, len(speech))][: count - at]
            out[at : at + len(clip)] += strength * clip
            at += len(clip) + int(rng.uniform(0.05, 0.6) * RATE)
    return unit(out)


def bank(seed: int, pieces: int, count: int, speech: list[Wave]) -> Wave:
    """`pieces` noises of `count` samples each, RMS 1: shape (pieces, count)."""
    rng = np.random.default_rng(seed)
    makers = [coloured, wind, wind, engine, engine, rain, tones, clanks]
    out = []
    for number in range(pieces):
        kind = number % 11
        if kind >= 9 or (kind == 8 and not speech):
            pair = rng.choice(len(makers), 2)
            mixed = makers[pair[0]](rng, count) + rng.uniform(0.3, 1) * makers[pair[1]](rng, count)
            out.append(unit(mixed))
        elif kind == 8:
            out.append(unit(babble(rng, count, speech) + rng.uniform(0, 0.7) * clanks(rng, count)))
        else:
            out.append(makers[kind](rng, count))
    return np.stack(out)
