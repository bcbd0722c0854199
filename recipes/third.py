"""The third network: the frozen encoder of Whisper, and on it a small head that tells phones.

The encoder (see `extract_whisper.py`) was trained on very much human speech; the head is trained on
the same synthetic clips as the others.  The encoder attends to the whole utterance at once, so this
network is asked when the utterance is over.  Imports torch.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import torch
from second import Head
from torch import Tensor, nn
from torch.nn import functional as F

STRIDE = 2
"""Mel frames to one output frame: 20 ms."""

WINDOW, HOP, BANDS = 400, 160, 80
UNDER = -27.0
"""dB of the faint noise against the speech."""

SILENT = -0.5
"""About what silence is in the encoder's mel frames."""


def mel_matrix(warp: float = 1.0) -> np.ndarray:
    """Triangular filters of equal area on Slaney's mel scale, 0 to 8,000 Hz: (201, BANDS).

    Linear to 1,000 Hz, then 27 bands to a factor of 6.4.  `warp` moves all edges by a factor.
    """
    knee, step = 15.0, math.log(6.4) / 27
    highest = knee + math.log(8.0) / step
    mels = np.linspace(0.0, highest, BANDS + 2)
    edges = np.where(mels < knee, mels * 200 / 3, 1000 * np.exp(step * (mels - knee))) * warp
    bins = np.arange(WINDOW // 2 + 1)[:, None] * 40.0
    rising = (bins - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - bins) / (edges[2:] - edges[1:-1])
    return np.maximum(np.minimum(rising, falling), 0.0) * 2 / (edges[2:] - edges[:-2])


class LogMel:
    """Samples (batch, n), full scale 1, to the encoder's mel frames (batch, n // HOP, 80)."""

    def __init__(self, device: torch.device | str) -> None:
        warps = [math.exp(0.16 * (k / 10 - 1)) for k in range(21)]
        self.matrix = torch.from_numpy(mel_matrix()).float().to(device)
        stacked = np.stack([mel_matrix(warp) for warp in warps])
        self.warped = torch.from_numpy(stacked).float().to(device)
        self.window = torch.hann_window(WINDOW, periodic=True, device=device)

    def __call__(self, wave: Tensor, warp: Tensor | None = None) -> Tensor:
        """As `augment.LogMel`; under faint noise, as in `handsfree.hearing.own.whisper`."""
        power = F.avg_pool1d(wave[:, None] ** 2, 320)[:, 0]
        loud = (power > power.amax(1, keepdim=True) / 100).float()
        level = torch.sqrt((power * loud).sum(1) / (loud.sum(1) + 1e-9))
        wave = wave + torch.randn_like(wave) * level[:, None] * 10 ** (UNDER / 20)
        wave = F.pad(wave, (WINDOW // 2, WINDOW // 2 - HOP))
        frames = wave.unfold(1, WINDOW, HOP) * self.window
        power = torch.fft.rfft(frames, WINDOW).abs() ** 2
        matrix = self.matrix if warp is None else self.warped[warp]
        heard = torch.log10((power @ matrix).clamp(min=1e-10))
        heard = torch.maximum(heard, heard.amax((1, 2), keepdim=True) - 8.0)
        return (heard + 4.0) / 4.0


class Encoder(nn.Module):
    """Whisper's encoder; gives the output of each of its layers."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        with np.load(file) as packed:
            self.heads = int(packed["heads"])
            for name in packed.files:
                value = packed[name]
                if name.endswith("#") or name == "heads":
                    continue
                if value.dtype == np.int8:
                    value = value.astype(np.float32) * packed[name + "#"]
                flat = torch.from_numpy(value.astype(np.float32))
                self.register_buffer(name.replace(".", "_"), flat, False)
        self.width = len(self.conv2_bias)
        self.depth = 4

    def places(self, count: int, device: torch.device) -> Tensor:
        """The position encoding, (count, width)."""
        half = self.width // 2
        rates = torch.exp(-math.log(10_000) / (half - 1) * torch.arange(half, device=device))
        angles = torch.arange(count, device=device)[:, None] * rates
        return torch.cat([angles.sin(), angles.cos()], 1)

    def forward(self, mel: Tensor, frames: Tensor) -> list[Tensor]:
        """mel: (batch, 2 n, 80); frames: how many of the n of each are not padding.

        Returns for each layer (batch, n, width).
        """
        def part(name: str) -> Tensor:
            return getattr(self, name)

        def conv(x: Tensor, name: str, stride: int) -> Tensor:
            weight = part(f"{name}_weight")
            weight = weight.reshape(3, x.shape[1], -1).permute(2, 1, 0)
            made = F.conv1d(x, weight, part(f"{name}_bias"), stride=stride, padding=1)
            return F.gelu(made, approximate="tanh")

        def norm(x: Tensor, name: str) -> Tensor:
            return F.layer_norm(x, (self.width,), part(f"{name}_weight"), part(f"{name}_bias"))

        def linear(x: Tensor, name: str) -> Tensor:
            return x @ part(f"{name}_weight") + part(f"{name}_bias")

        x = conv(conv(mel.transpose(1, 2), "conv1", 1), "conv2", 2).transpose(1, 2)
        batch, count = x.shape[:2]
        x = x + self.places(count, x.device)
        seen = (torch.arange(count, device=x.device)[None] < frames[:, None])[:, None, None]
        out = []
        for layer in range(self.depth):
            three = linear(norm(x, f"{layer}_norm1"), f"{layer}_heard")
            q, k, v = three.reshape(batch, count, 3, self.heads, -1).permute(2, 0, 3, 1, 4)
            found = F.scaled_dot_product_attention(q, k, v, attn_mask=seen)
            x = x + linear(found.transpose(1, 2).reshape(batch, count, -1), f"{layer}_told")
            inner = F.gelu(linear(norm(x, f"{layer}_norm2"), f"{layer}_into"), approximate="tanh")
            x = x + linear(inner, f"{layer}_back")
            out.append(x)
        return out


class WhisperHead(Head):
    """See the module's docstring."""

    def __init__(self, encoder: Path, width: int = 224, depth: int = 5) -> None:
        super().__init__((384,) * 4, width=width, depth=depth, kernel=9, drop=0.15)
        self.encoder = Encoder(encoder)

    def seen(self, mel: Tensor, frames: Tensor) -> list[Tensor]:
        """What the head listens to."""
        with torch.no_grad():
            return self.encoder(mel, frames)
