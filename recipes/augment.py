"""Clean clips into what a microphone in the open would hear, a batch at a time on the GPU.

Speed and pitch, room, tone of the microphone and telephone band, words cut off, noise at -5 to 30
dB, clipping, level; then log-mel frames.  Imports torch.
"""

from __future__ import annotations

import math

import torch
from net import BANDS
from torch import Tensor
from torch.nn import functional as F

RATE = 16_000
HOP, WINDOW, FFT = 160, 400, 512
MEAN, SPREAD = -7.0, 4.0
"""Log-mel values are standardised with these."""


def mel_matrix(device: torch.device | str = "cpu", warp: float = 1.0) -> Tensor:
    """Triangular mel filters, (FFT // 2 + 1, BANDS), 80 to 7,600 Hz; HTK's mel scale.

    `warp` shifts all edges by a factor, as if the speaker's vocal tract were longer or shorter.
    """
    low, high = (2595 * math.log10(1 + f / 700) for f in (80.0, 7600.0))
    edges = 700 * (10 ** (torch.linspace(low, high, BANDS + 2, dtype=torch.float64) / 2595) - 1)
    edges = edges * warp
    bins = torch.arange(FFT // 2 + 1, dtype=torch.float64)[:, None] * RATE / FFT
    rising = (bins - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - bins) / (edges[2:] - edges[1:-1])
    return torch.clamp(torch.minimum(rising, falling), min=0).float().to(device)


class LogMel:
    """Samples (batch, n), full scale 1, to standardised log-mel (batch, frames, BANDS)."""

    def __init__(self, device: torch.device | str) -> None:
        self.matrix = mel_matrix(device)
        warps = [math.exp(0.16 * (k / 10 - 1)) for k in range(21)]
        self.warped = torch.stack([mel_matrix(device, warp) for warp in warps])
        self.window = torch.hann_window(WINDOW, periodic=True, device=device)

    def __call__(self, wave: Tensor, warp: Tensor | None = None) -> Tensor:
        """`warp`: for each example one of the 21 vocal tract lengths; None for all as they are."""
        frames = wave.unfold(1, WINDOW, HOP) * self.window
        power = torch.fft.rfft(frames, FFT).abs() ** 2
        matrix = self.matrix if warp is None else self.warped[warp]
        return (torch.log(power @ matrix + 1e-5) - MEAN) / SPREAD


class Augment:
    """Makes training batches from clips that lie on the device."""

    def __init__(self, speech: Tensor, noise: Tensor, seed: int) -> None:
        """speech: all clips end to end, int16, (total,); noise: (pieces, count), RMS 1."""
        self.speech, self.noise = speech, noise
        self.device = speech.device
        self.rng = torch.Generator(self.device).manual_seed(seed)

    def uniform(self, count: int, low: float, high: float) -> Tensor:
        return low + (high - low) * torch.rand(count, generator=self.rng, device=self.device)

    def happens(self, count: int, chance: float) -> Tensor:
        return torch.rand(count, generator=self.rng, device=self.device) < chance

    def curve(self, batch: int, bins: int, deviation: float) -> Tensor:
        """Random smooth gain over log-frequency, (batch, bins), as a factor."""
        points = torch.randn(batch, 9, generator=self.rng, device=self.device) * deviation
        where = torch.linspace(0, 1, bins, device=self.device) * RATE / 2
        octave = torch.clamp(torch.log2((where + 40) / 40) / math.log2(8040 / 40), 0, 0.9999) * 8
        low = octave.long()
        part = octave - low
        decibels = points[:, low] * (1 - part) + points[:, low + 1] * part
        return 10 ** (decibels / 20)

    def kept(self, wave: Tensor) -> Tensor:
        """What a threshold of loudness leaves of each recording, (batch, n): all of most, of some
        no weak sounds at the ends (an "s" before or after the word, the "t" of "two")."""
        batch, total = wave.shape
        phone = torch.fft.rfft(wave)
        phone[:, int(phone.shape[1] * 0.45) :] = 0  # a band that hides them
        low = torch.fft.irfft(phone, total)
        power = F.avg_pool1d(low[:, None] ** 2, 320, 160, ceil_mode=True)[:, 0]
        floor = power.amax(1) * 10 ** (-self.uniform(batch, 10, 32) / 10)
        floor = floor * self.happens(batch, 0.35)
        loud = power >= floor[:, None]
        first = loud.float().argmax(1) * 160
        last = (loud.shape[1] - loud.flip(1).float().argmax(1)) * 160 + 160
        time = torch.arange(total, device=self.device)[None]
        return (time >= first[:, None]) & (time < last[:, None])

    def __call__(self, at: Tensor, length: Tensor, snr_low: float = -4.0) -> tuple[Tensor, Tensor]:
        """at, length: start and length of each clip, (batch,).

        Returns samples (batch, n), full scale 1, and the number of samples up to and including
        the trailing noise of each (batch,).
        """
        batch = len(at)
        warp = torch.exp(self.uniform(batch, math.log(0.84), math.log(1.2)))
        warp = torch.where(self.happens(batch, 0.2), torch.ones_like(warp), warp)
        lead = (self.uniform(batch, 0.05, 0.7) * RATE).long()
        tail = (self.uniform(batch, 0.3, 0.8) * RATE).long()
        long = (length / warp).long()
        total = int((lead + long + tail).max())
        time = torch.arange(total, device=self.device)[None]
        place = (time - lead[:, None]).float() * warp[:, None]
        # Nobody speaks at an even pace: up to a seventh faster and slower, one to five times a
        # second.
        rate = self.uniform(batch, 1.0, 5.0)[:, None] * (2 * math.pi / RATE)
        phase = self.uniform(batch, 0, 2 * math.pi)[:, None]
        sway = self.uniform(batch, 0, 0.14)[:, None] * self.happens(batch, 0.6)[:, None] / rate
        place = place + sway * (torch.sin(rate * place + phase) - torch.sin(phase))
        inside = (place >= 0) & (place < length[:, None] - 1)
        place = torch.where(inside, place, torch.zeros_like(place))
        base = place.long()
        part = place - base
        first = self.speech[(at[:, None] + base)].float()
        second = self.speech[(at[:, None] + base + 1).clamp(max=len(self.speech) - 1)].float()
        wave = (first * (1 - part) + second * part) * inside / 32768.0

        # Room and microphone, in one multiplication of spectra.
        size = total + 6400
        spectrum = torch.fft.rfft(wave, size)
        bins = spectrum.shape[1]
        where = torch.linspace(0, RATE / 2, bins, device=self.device)[None]
        reverb = self.happens(batch, 0.5)
        taps = torch.arange(6400, device=self.device)[None] / RATE
        rt60 = self.uniform(batch, 0.06, 0.6)[:, None]
        decay = torch.randn(batch, 6400, generator=self.rng, device=self.device)
        decay = decay * torch.exp(-6.9 * taps / rt60) * (taps > 0.002)
        decay = decay / (decay.norm(dim=1, keepdim=True) + 1e-6)
        decay = decay * (10 ** (self.uniform(batch, -24, 0) / 20) * reverb)[:, None]
        decay[:, 0] = 1.0
        gain = torch.fft.rfft(decay, size)
        gain = gain * self.curve(batch, bins, 4.0)
        # dB an octave; a microphone in a pocket takes most.
        tilt = torch.where(self.happens(batch, 0.25), self.uniform(batch, -9, -4),
                           self.uniform(batch, -4, 4))[:, None]  # fmt: skip
        gain = gain * 10 ** (tilt * torch.log2((where + 100) / 1000) / 20)
        cut = torch.where(self.happens(batch, 0.35), self.uniform(batch, 2600, 7000), 9000.0)
        gain = gain / torch.sqrt(1 + (where / cut[:, None]) ** 12)
        bottom = torch.where(self.happens(batch, 0.3), self.uniform(batch, 80, 400), 1.0)
        gain = gain / torch.sqrt(1 + (bottom[:, None] / (where + 1e-3)) ** 6)
        wave = torch.fft.irfft(spectrum * gain, size)[:, :total]
        inside = inside & self.kept(wave)
        wave = wave * inside
        active = inside.float()
        level = torch.sqrt((wave**2 * active).sum(1) / active.sum(1) + 1e-9)[:, None]
        wave = wave / level

        heard = torch.zeros_like(wave)
        pieces, count = self.noise.shape
        for layer in range(2):
            piece = torch.randint(pieces, (batch,), generator=self.rng, device=self.device)
            start = torch.randint(count - total, (batch,), generator=self.rng, device=self.device)
            noise = self.noise[piece[:, None], start[:, None] + time]
            shaped = torch.fft.irfft(
                torch.fft.rfft(noise.float(), size) * self.curve(batch, bins, 2.5), size
            )[:, :total]
            power = torch.sqrt((shaped**2 * active).sum(1) / active.sum(1) + 1e-9)[:, None]
            share = 1.0 if layer == 0 else self.uniform(batch, 0, 1)[:, None]
            use = share * (torch.ones(batch, device=self.device) if layer == 0 else
                           self.happens(batch, 0.35))[:, None]
            heard = heard + use * shaped / power
        both = torch.sqrt((heard**2 * active).sum(1) / active.sum(1) + 1e-9)[:, None]
        snr = self.uniform(batch, snr_low, 28.0)
        snr = torch.where(self.happens(batch, 0.1), self.uniform(batch, 30, 60), snr)[:, None]
        # The telephone band is the line's, not the surroundings': it cuts the noise as well.
        wave = wave + heard / both * 10 ** (-snr / 20)
        phone = self.happens(batch, 0.3)[:, None]
        spectrum = torch.fft.rfft(wave, size)
        top = self.uniform(batch, 3300, 3950)[:, None]
        floor = self.uniform(batch, 50, 350)[:, None]
        band = (torch.sigmoid((top - where) / 60) * torch.sigmoid((where - floor) / 30)).float()
        wave = torch.fft.irfft(torch.where(phone, spectrum * band, spectrum), size)[:, :total]

        peak = wave.abs().amax(1, keepdim=True) + 1e-9
        hot = torch.where(self.happens(batch, 0.12), self.uniform(batch, 1.2, 4.0), 0.999)[:, None]
        wave = torch.clamp(wave / peak * hot, -1, 1)
        loud = 10 ** (self.uniform(batch, -34, 0) / 20)[:, None]
        # Eight bits of a telephone line.
        coded = torch.sign(wave) * torch.log1p(255 * wave.abs()) / math.log(256)
        coded = torch.round(coded * 127) / 127
        coded = torch.sign(coded) * (torch.exp(coded.abs() * math.log(256)) - 1) / 255
        wave = torch.where(phone & self.happens(batch, 0.4)[:, None], coded, wave)
        # Some recordings are cut hard at the ends, a part of the first and last sound too, with
        # digital silence around.
        gated = self.happens(batch, 0.25)[:, None]
        least = torch.where(self.happens(batch, 0.5), self.uniform(batch, -0.03, 0.03),
                            self.uniform(batch, 0, 0.3))  # fmt: skip
        most = torch.where(self.happens(batch, 0.5), self.uniform(batch, -0.05, 0.03),
                           self.uniform(batch, 0, 0.3))  # fmt: skip
        # What is spoken begins 25 ms into a clip and ends 50 ms before its end.
        early = (lead + 400 / warp)[:, None].long() - (least * RATE).long()[:, None]
        late = (lead + long - 800 / warp)[:, None].long() + (most * RATE).long()[:, None]
        wave = torch.where(gated & ((time < early) | (time > late)), 0.0, wave)
        hiss = 10 ** (self.uniform(batch, -105, -70) / 20) * self.happens(batch, 0.7)
        rough = torch.randn(wave.shape, generator=self.rng, device=self.device)
        wave = wave + rough * (hiss[:, None] / loud)
        wave = torch.round(wave * loud * 32767) / 32768.0
        return wave, lead + long + tail
