"""The network: log-mel frames in, log-probabilities of phones and blank out; strictly causal.

64 log-mel bands every 10 ms → two convolutions in time and frequency, one output every 30 ms →
blocks of causal depthwise convolution and a two-layer perceptron → 40 classes.  Every block can
hand its last frames on, so that sound may come in pieces.  Imports torch.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional as F

BANDS = 64
STRIDE = 3
"""Mel frames to one output frame."""


class Block(nn.Module):
    """Causal depthwise convolution, layer norm, two-layer perceptron, residual."""

    def __init__(self, width: int, kernel: int, dilation: int, wider: int, drop: float) -> None:
        super().__init__()
        self.context = (kernel - 1) * dilation
        self.depthwise = nn.Conv1d(width, width, kernel, groups=width, dilation=dilation)
        self.norm = nn.LayerNorm(width)
        self.into = nn.Linear(width, wider * width)
        self.out = nn.Linear(wider * width, width)
        self.scale = nn.Parameter(torch.full((width,), 0.3))
        self.drop = nn.Dropout(drop)

    def forward(self, x: Tensor, before: Tensor) -> tuple[Tensor, Tensor]:
        """x: (batch, time, width), before: (batch, context, width); gives x and the new before."""
        joined = torch.cat([before, x], dim=1)
        mixed = self.depthwise(joined.transpose(1, 2)).transpose(1, 2)
        inner = self.out(self.drop(F.gelu(self.into(self.norm(mixed)))))
        return x + self.scale * self.drop(inner), joined[:, -self.context :]


class Net(nn.Module):
    """See the module's docstring."""

    def __init__(
        self, classes: int = 40, width: int = 240, depth: int = 11, kernel: int = 9, wider: int = 3,
        drop: float = 0.1,
    ) -> None:  # fmt: skip
        super().__init__()
        self.width = width
        self.first = nn.Conv2d(1, 32, (3, 3), stride=(1, 2), padding=(0, 1))
        self.second = nn.Conv2d(32, 48, (3, 3), stride=(STRIDE, 2), padding=(0, 1))
        self.enter = nn.Linear(48 * (BANDS // 4), width)
        self.blocks = nn.ModuleList(
            Block(width, kernel, 2 if at % 3 == 2 else 1, wider, drop) for at in range(depth)
        )
        self.norm = nn.LayerNorm(width)
        self.head = nn.Linear(width, classes)
        self.early = nn.Linear(width, classes)

    def fresh(self, batch: int, device: torch.device | str = "cpu") -> list[Tensor]:
        """What came before the first frame: 2 mel frames, then the blocks' frames; all zero."""
        mel = torch.zeros(batch, 2, BANDS, device=device)
        return [mel] + [
            torch.zeros(batch, block.context, self.width, device=device) for block in self.blocks
        ]

    def forward(
        self, mel: Tensor, before: list[Tensor], frames: Tensor | None = None
    ) -> tuple[Tensor, Tensor, list[Tensor]]:
        """mel: (batch, 3 n, 64), standardised; what is padding does not matter.

        Returns log-probabilities (batch, n, classes), those of the middle of the network, and what
        to give as `before` with the next piece.
        """
        joined = torch.cat([before[0], mel], dim=1)
        after = [joined[:, -2:]]
        x = F.gelu(self.first(joined[:, None]))
        x = F.gelu(self.second(x))
        x = self.enter(x.permute(0, 2, 1, 3).flatten(2))
        early = x
        for at, block in enumerate(self.blocks):
            x, kept = block(x, before[at + 1])
            after.append(kept)
            if at == len(self.blocks) // 2:
                early = x
        x = self.norm(x)
        return (
            F.log_softmax(self.head(x).float(), -1),
            F.log_softmax(self.early(early).float(), -1),
            after,
        )
