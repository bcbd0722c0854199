"""Train the speech gate: is somebody speaking now, whatever it rains?

    python gate.py DATA --noise DIR --out ../models/gate.npz --seconds 300 [--more DATA]

DATA holds clips as `speak.py` writes them, and people's; DIR recordings of outdoor noise, of which
those named in `recorded.JUDGE` are left to the benchmarks.  Streams of 20 s: one to four utterances
(or none) in noise that goes on, a microphone, a level.  Imports torch.
"""

from __future__ import annotations

import argparse
import math
import time
from pathlib import Path

import noises
import numpy as np
import recorded
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from handsfree.hearing.gate import (
    BANDS,
    CHUNK,
    DILATIONS,
    FLOOR,
    HOP,
    MEMORY,
    TAPS,
    WINDOW,
    mel_matrix,
)

RATE = 16_000
CHUNKS = 625
"""Of a stream: 20 s."""


class Net(nn.Module):
    """As `handsfree.hearing.gate.Gate`, over whole streams."""

    def __init__(self, width: int = 48) -> None:
        super().__init__()
        self.enter = nn.Linear(3 * BANDS, width)
        self.blocks = nn.ModuleList(Block(width, far) for far in DILATIONS)
        self.norm = nn.LayerNorm(width)
        self.head = nn.Linear(width, 1)

    def forward(self, told: Tensor) -> Tensor:
        """told: (batch, chunks, 3 BANDS).  Returns logits (batch, chunks)."""
        x = self.enter(told)
        for block in self.blocks:
            x = block(x)
        return self.head(self.norm(x))[..., 0]


class Block(nn.Module):
    """Taps in time, then a perceptron a chunk."""

    def __init__(self, width: int, far: int) -> None:
        super().__init__()
        self.far = far
        self.taps = nn.Parameter(torch.randn(TAPS, width) * 0.3)
        self.bias = nn.Parameter(torch.zeros(width))
        self.norm = nn.LayerNorm(width)
        self.into = nn.Linear(width, 2 * width)
        self.out = nn.Linear(2 * width, width)
        nn.init.zeros_(self.out.weight)

    def forward(self, x: Tensor) -> Tensor:
        edged = F.pad(x, (0, 0, (TAPS - 1) * self.far, 0))
        mixed = self.bias + sum(
            self.taps[k] * edged[:, k * self.far : k * self.far + x.shape[1]] for k in range(TAPS))
        return x + self.out(F.relu(self.into(self.norm(mixed))))


class Features:
    """Samples (batch, chunks * CHUNK), full scale 1, to what the network sees."""

    def __init__(self, device: str) -> None:
        self.mel = torch.from_numpy(mel_matrix()).to(device)
        self.window = torch.hann_window(WINDOW, periodic=True, device=device)
        # Row t: the mean before chunk t, of those before it, as a running mean that fades.
        weights = np.zeros((CHUNKS, CHUNKS))
        weights[0, 0] = weights[1:, 0] = 1.0
        for t in range(1, CHUNKS):
            rate = 1 / min(t, MEMORY)
            weights[t] = weights[t - 1] * (1 - rate) if t > 1 else 0
            weights[t, t - 1] += rate
        self.means = torch.from_numpy(weights).float().to(device)

    def __call__(self, wave: Tensor) -> Tensor:
        frames = F.pad(wave, (HOP, 0)).unfold(1, WINDOW, HOP) * self.window
        mel = torch.log(torch.fft.rfft(frames).abs() ** 2 @ self.mel + FLOOR)
        mel = mel[:, : 2 * CHUNKS].reshape(len(wave), CHUNKS, 2, BANDS)
        mean = self.means @ mel.mean(2)
        told = ((mel - mean[:, :, None]) / 2).clamp(-3, 5).flatten(2)
        return torch.cat((told, (mean - mean.mean(-1, keepdim=True)) / 3), -1)


def activity(clip: Tensor) -> Tensor:
    """Where a clip without noise holds speech, a value each 32 ms: within 34 dB of its loudest,
    pauses shorter than 0.2 s included."""
    size = -(-len(clip) // CHUNK)
    power = F.pad(clip, (0, size * CHUNK - len(clip))).reshape(size, CHUNK).pow(2).mean(1)
    loud = (power > power.max() * 10**-3.4).float()[None, None]
    wide = F.max_pool1d(loud, 7, 1, 3)
    closed = -F.max_pool1d(-F.pad(wide, (3, 3), value=1.0), 7, 1)
    return torch.maximum(closed, loud)[0, 0]


class Streams:
    """Makes batches.  clips: waves, full scale 1; noise, bank: (pieces, 20 s), RMS 1."""

    def __init__(self, clips: list[list[Tensor]], shares: list[float], noise: Tensor,
                 bank: Tensor, seed: int) -> None:
        self.clips, self.noise, self.bank = clips, noise, bank
        self.shares = np.array(shares) / sum(shares)
        self.active = [[activity(c) for c in some] for some in clips]
        self.ends = [[(int(torch.nonzero(a)[0]), int(torch.nonzero(a)[-1])) for a in some]
                     for some in self.active]
        self.loud = [[1 / (float(c.pow(2).mean().sqrt()) + 1e-6) for c in some] for some in clips]
        self.rng = np.random.default_rng(seed)
        self.device = bank.device

    def background(self, count: int, samples: int) -> Tensor:
        """A noise each, or two, recorded or made, with swells and steps: (count, samples)."""
        out = torch.zeros(count, samples, device=self.device)
        for layer in range(2):
            rows, starts = [], self.rng.integers(self.noise.shape[1], size=count)
            for _ in range(count):
                kind = self.noise if self.rng.random() < 0.6 else self.bank
                rows.append(kind[self.rng.integers(len(kind))])
            at = torch.arange(samples, device=self.device)[None] + torch.from_numpy(
                starts[:, None]).to(self.device)
            piece = torch.stack(rows).float().gather(1, at % self.noise.shape[1])
            share = 10 ** (self.rng.uniform(-12, 0, count) / 20) * (self.rng.random(count) < 0.3)
            gain = np.ones(count) if layer == 0 else share
            out += piece * self.swells(count, samples) * torch.from_numpy(gain[:, None]).float().to(self.device)
        return out

    def swells(self, count: int, samples: int) -> Tensor:
        """Slowly changing strengths, (count, samples)."""
        rng = self.rng
        walk = np.cumsum(rng.normal(0, 1, (count, 40)), axis=1)
        points = walk * rng.choice([0.0, 0.03, 0.1, 0.25], (count, 1))
        steps = np.arange(40)[None] >= rng.integers(40, size=(count, 1))
        points += steps * rng.uniform(-1.2, 1.2, (count, 1)) * (rng.random((count, 1)) < 0.25)
        strength = np.exp((points - points.mean(axis=1, keepdims=True)).clip(-3, 2))
        given = torch.from_numpy(strength).float().to(self.device)
        return F.interpolate(given[:, None], samples, mode="linear")[:, 0]

    def spectra(self, wave: Tensor, deviation: float) -> Tensor:
        """Each wave of the batch through another microphone."""
        batch, samples = wave.shape
        points = torch.from_numpy(self.rng.normal(0, deviation, (batch, 10))).float()
        points = points + torch.from_numpy(
            self.rng.uniform(-deviation, deviation, (batch, 1)) * np.linspace(-1.5, 1.5, 10)).float()
        bins = samples // 2 + 1
        where = torch.log2(torch.linspace(40, 8040, bins) / 40) / math.log2(201)
        low = (where * 9).long().clamp(max=8)
        part = where * 9 - low
        gain = points[:, low] * (1 - part) + points[:, low + 1] * part
        gain = 10 ** (gain.to(self.device) / 20)
        return torch.fft.irfft(torch.fft.rfft(wave) * gain, samples)

    def batch(self, count: int) -> tuple[Tensor, Tensor, Tensor]:
        """Streams, labels and weights."""
        rng, samples = self.rng, CHUNKS * CHUNK
        speech = torch.zeros(count, samples, device=self.device)
        label = torch.zeros(count, CHUNKS, device=self.device)
        weight = torch.ones(count, CHUNKS, device=self.device)
        under = self.background(count, samples)
        for row in range(count):
            at, most = int(rng.uniform(0.3, 9) * RATE), rng.integers(1, 5)
            if rng.random() < 0.2:
                continue
            for _ in range(most):
                kind = rng.choice(len(self.clips), p=self.shares)
                number = int(rng.integers(len(self.clips[kind])))
                clip, active = self.clips[kind][number], self.active[kind][number]
                at = at // CHUNK * CHUNK
                if at + len(clip) > samples - RATE:
                    break
                loudness = self.loud[kind][number] * 10 ** (rng.normal(0, 2.5) / 20)
                speech[row, at : at + len(clip)] = clip * loudness
                first, last = at // CHUNK, at // CHUNK + len(active)
                label[row, first:last] = active
                begins, ends = self.ends[kind][number]
                weight[row, first + begins : first + begins + 2] = 0.3
                weight[row, first + ends + 1 : first + ends + 3] = 0.3
                at += len(clip) + int(rng.exponential(2.5) * RATE + 0.5 * RATE)
        # Rooms: a tail of noise that dies away.
        taps = torch.arange(4000, device=self.device) / RATE
        far = torch.from_numpy(rng.uniform(0.05, 0.35, (count, 1))).float().to(self.device)
        tail = torch.randn(count, 4000, device=self.device) * torch.exp(-6.9 * taps / far)
        wet = 10 ** (rng.uniform(-24, -3, (count, 1)) / 20) * (rng.random((count, 1)) < 0.5)
        tail = tail / tail.norm(dim=1, keepdim=True) * torch.from_numpy(wet).float().to(self.device)
        tail[:, 0] = 1
        size = samples + 4000
        speech = torch.fft.irfft(
            torch.fft.rfft(speech, size) * torch.fft.rfft(tail, size), size)[:, :samples]
        speech = self.spectra(speech, 3.0)
        under = self.spectra(under, 2.5)
        said = F.interpolate(label[:, None], samples)[:, 0]
        power = torch.where(said.sum(1) > 0, (speech**2 * said).sum(1) / (said.sum(1) + 1), 1.0)
        # Against the noise while somebody speaks, as the benchmarks count it.
        beside = torch.where(said.sum(1) > 0, (under**2 * said).sum(1) / (said.sum(1) + 1),
                             (under**2).mean(1))
        snr = torch.from_numpy(np.where(
            rng.random(count) < 0.75, rng.uniform(-3, 12, count), rng.uniform(12, 45, count)))
        scale = torch.sqrt(power / (beside + 1e-9)) * 10 ** (-snr.float().to(self.device) / 20)
        wave = speech + under * scale[:, None]
        narrow = torch.from_numpy(rng.random(count) < 0.2).to(self.device)[:, None]
        spectrum = torch.fft.rfft(wave)
        where = torch.linspace(0, RATE / 2, spectrum.shape[1], device=self.device)
        band = (torch.sigmoid((3600 - where) / 60) * torch.sigmoid((where - 200) / 30))[None]
        wave = torch.fft.irfft(torch.where(narrow, spectrum * band, spectrum), samples)
        peak = wave.abs().amax(1, keepdim=True)
        level = 10 ** (torch.from_numpy(rng.uniform(-36, 6, (count, 1))).float() / 20)
        wave = (wave / (peak + 1e-9) * level.to(self.device)).clamp(-1, 1)
        wave = wave + torch.randn_like(wave) * 10 ** (rng.uniform(-95, -70) / 20)
        return torch.round(wave * 32767) / 32768, label, weight


def packed(net: Net) -> dict[str, np.ndarray]:
    """Arrays by name, rows are inputs."""
    out = {}
    for name, value in net.state_dict().items():
        array = value.float().cpu().numpy()
        if name.endswith(("into.weight", "out.weight", "enter.weight")):
            array = array.T
        out[name] = (array[0] if name == "head.weight" else array).astype(np.float16)
    return out


def unpacked(net: Net, stored: dict[str, np.ndarray]) -> dict[str, Tensor]:
    """The other way round."""
    state = net.state_dict()
    for name, value in stored.items():
        array = value.astype(np.float32)
        if name.endswith(("into.weight", "out.weight", "enter.weight")):
            array = array.T
        state[name] = torch.from_numpy(array).reshape(state[name].shape)
    return state


def main() -> None:
    """Train."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--noise", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seconds", type=float, default=300)
    parser.add_argument("--batch", type=int, default=64)
    parser.add_argument("--seed", type=int, default=9)
    parser.add_argument("--start", type=Path, help="go on from this gate")
    parser.add_argument("--rate", type=float, default=3e-3)
    asked = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(asked.seed)
    families = recorded.clips(asked.folders)
    waves = {name: [torch.from_numpy(w.astype(np.float32) / 32768).to(device) for w in some
                    if 1600 < len(w) < 6 * RATE and np.abs(w).max() > 300]
             for name, some in families.items()}
    names = sorted(name for name, some in waves.items() if some)
    shares = [min(1.0, len(waves[n]) / 150) * (1.6 if n in recorded.PEOPLE else 1.0) for n in names]
    print({n: len(waves[n]) for n in names}, flush=True)
    rng = np.random.default_rng(asked.seed)
    some = [w.cpu().numpy() for n in names for w in waves[n][:30]]
    bank = torch.from_numpy(noises.bank(asked.seed, 110, 20 * RATE, some)).to(device)
    noise = torch.from_numpy(recorded.pieces(asked.noise, 20, 20 * RATE, rng)).to(device)
    streams = Streams([waves[n] for n in names], shares, noise, bank, int(rng.integers(1 << 30)))
    features, net = Features(device), Net().to(device)
    if asked.start:
        with np.load(asked.start) as stored:
            net.load_state_dict(unpacked(net, dict(stored)))
    average = {k: v.detach().clone() for k, v in net.state_dict().items()}
    optimiser = torch.optim.AdamW(net.parameters(), lr=asked.rate, weight_decay=0.01)
    began, step, looked, mean = time.monotonic(), 0, 0.0, 0.5
    while (spent := time.monotonic() - began) < asked.seconds:
        part = spent / asked.seconds
        rate = asked.rate * min(1, (step + 1) / 100) * (0.5 + 0.5 * math.cos(math.pi * part))
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.no_grad():
            wave, label, weight = streams.batch(asked.batch)
            told = features(wave)
        logits = net(told)
        loss = (F.binary_cross_entropy_with_logits(logits, label, reduction="none")
                * weight).mean()
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        for name, value in net.state_dict().items():
            average[name].lerp_(value.detach(), 1 - min(0.998, step / (step + 10)))
        mean += 0.03 * (float(loss.detach()) - mean)
        if spent - looked > 30:
            looked = spent
            print(f"gate {spent:4.0f} s, step {step}, loss {mean:.4f}", flush=True)
            held = Net()
            held.load_state_dict({k: v.cpu() for k, v in average.items()})
            np.savez_compressed(asked.out, **packed(held))
    net.load_state_dict(average)
    np.savez_compressed(asked.out, **packed(net))


if __name__ == "__main__":
    main()
