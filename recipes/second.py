"""The second network: a frozen speech embedding, and on it a small head that tells phones.

The embedding (see `extract.py`) was trained on much human speech, which nothing else here was; the
head is trained on the same synthetic clips as the first network.  Strictly causal.  Imports torch.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np
import torch
from net import Block
from torch import Tensor, nn
from torch.nn import functional as F

STRIDE = 4
"""Mel frames to one output frame: 40 ms."""

WINDOW, HOP, FLOOR = 512, 160, 30.0
BEFORE = 72
"""Mel frames of silence that stand before the first, so that the first output comes at once."""

TIMES = {0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 19}
POOLS = {2: (2, 2), 6: (1, 2), 10: (2, 2), 14: (1, 2)}
PARTS = (288, 192, 192, 96)
"""Width of what is taken from the embedding after its layers 10, 14, 18 and 19."""


class LogMel:
    """Samples (batch, n), full scale 1, to the embedding's mel frames (batch, frames, 32)."""

    def __init__(self, file: Path, device: torch.device | str) -> None:
        with np.load(file) as packed:
            self.window = torch.from_numpy(packed["window"]).float().to(device)
            mel = packed["mel"].astype(np.float64)
        bins = np.arange(len(mel))
        warps = [math.exp(0.16 * (k / 10 - 1)) for k in range(21)]
        warped = [
            np.stack([np.interp(bins / warp, bins, band) for band in mel.T], 1) for warp in warps
        ]
        self.matrix = torch.from_numpy(mel).float().to(device)
        self.warped = torch.from_numpy(np.stack(warped)).float().to(device)

    def __call__(self, wave: Tensor, warp: Tensor | None = None) -> Tensor:
        """As `augment.LogMel`."""
        frames = wave.unfold(1, WINDOW, HOP) * (32768.0 * self.window)
        power = torch.fft.rfft(frames, WINDOW).abs() ** 2
        matrix = self.matrix if warp is None else self.warped[warp]
        return torch.log10(power @ matrix + FLOOR) + 2.0


class Embedding(nn.Module):
    """The frozen network, at every fourth mel frame."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        with np.load(file) as packed:
            for number in range(20):
                weight = packed[f"{number}.weight"].astype(np.float32)
                time = 3 if number in TIMES else 1
                band = 3 if number not in TIMES or number == 0 else 1
                weight = weight.reshape(time, band, -1, weight.shape[1]).transpose(3, 2, 0, 1)
                self.register_buffer(f"w{number}", torch.from_numpy(weight.copy()), False)
                self.register_buffer(
                    f"b{number}", torch.from_numpy(packed[f"{number}.bias"].copy()), False)

    def forward(self, mel: Tensor) -> Tensor:
        """mel: (batch, 4 n, 32).  Returns (batch, n, 768)."""
        count = mel.shape[1] // STRIDE
        quiet = torch.full_like(mel[:, :1], math.log10(FLOOR) + 2.0).expand(-1, BEFORE, -1)
        x = torch.cat([quiet, mel[:, : count * STRIDE]], 1)[:, None]
        out = []
        for number in range(20):
            weight, bias = getattr(self, f"w{number}"), getattr(self, f"b{number}")
            if number == 19:
                # The last pool and convolution, for every frame and not for every second.
                x = F.max_pool2d(x, (2, 2), stride=(1, 2))
                x = F.conv2d(x, weight, bias, dilation=(2, 1))
            else:
                x = F.conv2d(x, weight, bias, padding=(0, weight.shape[3] // 2))
                x = torch.clamp(F.leaky_relu(x, 0.2), min=-0.4)
            if number in POOLS:
                x = F.max_pool2d(x, POOLS[number])
            if number in (10, 14, 18, 19):
                kept = x[:, :, x.shape[2] - count :]
                out.append(kept.permute(0, 2, 3, 1).flatten(2))
        return torch.cat(out, -1)


class Head(nn.Module):
    """Norms of several frozen layers' outputs, blocks on them, and log-probabilities of phones.

    parts: widths of those outputs.  A subclass says in `seen` where they come from.
    """

    skipped: Mapping[int, float] = MappingProxyType({})
    """How often one of the outputs is left out in training."""

    def __init__(
        self, parts: tuple[int, ...], classes: int = 40, width: int = 224, depth: int = 7,
        kernel: int = 7, wider: int = 3, drop: float = 0.15,
    ) -> None:  # fmt: skip
        super().__init__()
        self.width = width
        self.norms = nn.ModuleList(nn.LayerNorm(size) for size in parts)
        self.enter = nn.Linear(sum(parts), width)
        self.blocks = nn.ModuleList(
            Block(width, kernel, 2 if at % 3 == 2 else 1, wider, drop) for at in range(depth)
        )
        self.norm = nn.LayerNorm(width)
        self.head = nn.Linear(width, classes)
        self.early = nn.Linear(width, classes)

    def seen(self, mel: Tensor, frames: Tensor) -> list[Tensor]:
        """The outputs that the head listens to, each (batch, n, width of its own)."""
        raise NotImplementedError

    def fresh(self, batch: int, device: torch.device | str = "cpu") -> list[Tensor]:
        """What came before the first frame: silence."""
        return [torch.zeros(batch, block.context, self.width, device=device)
                for block in self.blocks]

    def forward(
        self, mel: Tensor, before: list[Tensor], frames: Tensor
    ) -> tuple[Tensor, Tensor, list[Tensor]]:
        """mel: (batch, stride n, bands), the whole utterance; frames: how many of the n of each
        are not padding.  Returns as `net.Net` does."""
        parts = [n(p) for n, p in zip(self.norms, self.seen(mel, frames), strict=True)]
        if self.training:
            for at, chance in self.skipped.items():
                keep = torch.rand(len(mel), 1, 1, device=mel.device) >= chance
                parts[at] = parts[at] * keep
        x = self.enter(torch.cat(parts, -1))
        after, early = [], x
        for at, block in enumerate(self.blocks):
            x, kept = block(x, before[at])
            after.append(kept)
            if at == len(self.blocks) // 2:
                early = x
        x = self.norm(x)
        return (
            F.log_softmax(self.head(x).float(), -1),
            F.log_softmax(self.early(early).float(), -1),
            after,
        )


class EmbeddingHead(Head):
    """See the module's docstring."""

    # The early layers are not to do all the work: the late ones know people better.
    skipped = MappingProxyType({0: 0.25, 1: 0.15, 3: 0.1})

    def __init__(self, embedding: Path) -> None:
        super().__init__(PARTS)
        self.embedding = Embedding(embedding)

    def seen(self, mel: Tensor, frames: Tensor) -> list[Tensor]:
        """The embedding's stages."""
        with torch.no_grad():
            return list(self.embedding(mel).split(PARTS, -1))
