"""Write a trained network as the npz file that the program loads: int8 where it is large.

    python export.py MODEL.pt phones.npz

Imports torch and numpy.  Matrices are laid out so that rows are inputs.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import torch
from phones import PHONES


def packed(source: Path) -> dict[str, np.ndarray]:
    """Arrays by name."""
    weights = torch.load(source, map_location="cpu")["average"]
    out: dict[str, np.ndarray] = {"phones": np.array(PHONES)}
    for name, value in weights.items():
        array = value.float().numpy()
        if name.startswith("early."):
            continue  # helps training only
        if name in ("first.weight", "second.weight"):
            array = array.transpose(2, 3, 1, 0).reshape(-1, array.shape[0])
        elif name.endswith("depthwise.weight"):
            array = array[:, 0, :].T
        elif name == "enter.weight" and "first.weight" in weights:  # (channel, band) to (band, channel)
            array = array.reshape(array.shape[0], 48, 16).transpose(2, 1, 0).reshape(-1, len(array))
        elif array.ndim == 2:
            array = array.T
        if array.size > 10_000:
            scale = np.abs(array).max(axis=0, keepdims=True) / 127
            out[name] = np.round(array / scale).astype(np.int8)
            out[name + "#"] = scale.astype(np.float32)
        else:
            out[name] = array.astype(np.float32 if array.ndim == 1 else np.float16)
    return out


if __name__ == "__main__":
    np.savez_compressed(sys.argv[2], **packed(Path(sys.argv[1])))
