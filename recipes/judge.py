"""Train Whisper's decoder on as the judge of short utterances in noise.

    python judge.py DATA... --model ../models/en --noise OUTDOORS --out new.npz --seconds 290
    python judge.py --model ../models/en --mix new.npz 0.5 ../models/en/decoder.npz

DATA holds NAME.pcm (or NAME.ogg) with NAME.jsonl as `speak.py` writes them.  The encoder stays as it
is, and so do the tokens' vectors; all else of the decoder learns to write down what was said: the
log-probability of a text in all the ways in which `handsfree.hearing.own.rescoring` asks for it.
`--mix` goes a share of the way from the old weights to the new ones: between them it forgets less of
what it knows of people.  Imports torch and the program.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import random
import time
from pathlib import Path

import noises
import numpy as np
import recorded
import third
import torch
from augment import RATE, Augment
from extract_whisper import _Packed
from torch import Tensor, nn
from torch.nn import functional as F

from handsfree.hearing.own import decoder as shipped
from handsfree.hearing.own.rescoring import Rescorer
from handsfree.hearing.types import normal

torch.backends.cuda.enable_cudnn_sdp(False)  # it plans anew for every shape: a second a step
FROZEN = ("tokens", "embedding", "embedding.scale", "places", "heads")
SILENCE = 0.24
"""Seconds of silence that the program puts behind an utterance."""


class Decoder(nn.Module):
    """As `handsfree.hearing.own.decoder.Decoder`, for many utterances at once."""

    def __init__(self, file: Path) -> None:
        super().__init__()
        with np.load(file) as packed:
            self.heads = int(packed["heads"])
            self.names = [n for n in packed.files if not n.endswith("#") and n not in FROZEN]
            for name in self.names:
                value = packed[name].astype(np.float32)
                if f"{name}#" in packed.files:
                    value = value * packed[f"{name}#"]
                setattr(self, name.replace(".", "_"), nn.Parameter(torch.from_numpy(value)))
            scale = packed["embedding.scale"].astype(np.float32)[:, None]
            meaning = torch.from_numpy(packed["embedding"].astype(np.float32) * scale)
            self.register_buffer("meaning", meaning, False)
            places = torch.from_numpy(packed["places"].astype(np.float32))
            self.register_buffer("places", places, False)
        self.depth = 4

    def _norm(self, x: Tensor, name: str) -> Tensor:
        weight = getattr(self, f"{name}_weight")
        return F.layer_norm(x, weight.shape, weight, getattr(self, f"{name}_bias"))

    def _linear(self, x: Tensor, name: str) -> Tensor:
        return x @ getattr(self, f"{name}_weight") + getattr(self, f"{name}_bias")

    def _heads(self, x: Tensor) -> Tensor:
        return x.unflatten(-1, (self.heads, -1)).transpose(1, 2)

    def forward(self, heard: Tensor, seen: Tensor, whose: Tensor, tokens: Tensor) -> Tensor:
        """heard: (batch, frames, width) of the encoder; seen: (batch, frames), which are no padding.
        tokens: (rows, places), each row behind utterance `whose` of it.  Returns what is told in each
        place, (rows, places, width); times `meaning` it gives the logits."""
        memory = self._norm(heard, "heard_norm")
        mask = seen[whose][:, None, None]
        x = self.meaning[tokens] + self.places[: tokens.shape[1]]
        for layer in range(self.depth):
            three = self._linear(self._norm(x, f"{layer}_norm1"), f"{layer}_heard").chunk(3, -1)
            q, k, v = (self._heads(part) for part in three)
            found = F.scaled_dot_product_attention(q, k, v, is_causal=True)
            x = x + self._linear(found.transpose(1, 2).flatten(2), f"{layer}_told")
            q = self._heads(self._linear(self._norm(x, f"{layer}_norm2"), f"{layer}_asks"))
            both = self._linear(memory, f"{layer}_memory").chunk(2, -1)
            k, v = (self._heads(part)[whose] for part in both)
            found = F.scaled_dot_product_attention(q, k, v, attn_mask=mask)
            x = x + self._linear(found.transpose(1, 2).flatten(2), f"{layer}_found")
            inner = self._linear(self._norm(x, f"{layer}_norm3"), f"{layer}_into")
            x = x + self._linear(F.gelu(inner, approximate="tanh"), f"{layer}_back")
        return self._norm(x, "norm")


class Texts:
    """Ways to write texts, as numbers of tokens."""

    def __init__(self, model: Path) -> None:
        self._decoder = shipped.Decoder(model / "decoder.npz")
        self._rescorer = Rescorer(model / "decoder.npz", None)  # type: ignore[arg-type]
        self.first = self._decoder._first
        self.ends = self._decoder._ends
        self._kept: dict[str, list[tuple[int, ...]]] = {}

    def __call__(self, text: str) -> list[tuple[int, ...]]:
        """At most three ways, each with the tokens that stand before every text."""
        if text not in self._kept:
            ways = {self._decoder.tokens(way) for way in self._rescorer.written(text)}
            self._kept[text] = [(*self.first, *way[:30]) for way in sorted(ways) if way]
        return self._kept[text]


def told(net: Decoder, heard: Tensor, seen: Tensor, said: list[str], texts: Texts) -> Tensor:
    """Log-probability of each utterance's text behind it, in all its ways: (batch,)."""
    device = heard.device
    rows = [(way, at) for at, text in enumerate(said) for way in texts(text)]
    first, common = len(texts.first), shipped.COMMON
    rare = sorted(
        {t for row, _ in rows for t in row[first:] if t >= common}
        | {t for t in texts.ends if t >= common}
    )
    column = {t: common + at for at, t in enumerate(rare)}
    long = max(len(row) for row, _ in rows)
    tokens = np.full((len(rows), long), texts.first[0], dtype=np.int64)
    target = np.full((len(rows), long), -1, dtype=np.int64)
    for at, (row, _) in enumerate(rows):
        tokens[at, : len(row)] = row
        target[at, first - 1 : len(row) - 1] = [column.get(t, t) for t in row[first:]]
    last = torch.tensor([len(row) - 1 for row, _ in rows], device=device)
    ends = torch.tensor([column.get(t, t) for t in texts.ends], device=device)
    goal = torch.from_numpy(target).to(device)
    whose = torch.tensor([at for _, at in rows], device=device)
    out = net(heard, seen, whose, torch.from_numpy(tokens).to(device))
    table = torch.cat((net.meaning[:common], net.meaning[torch.tensor(rare, device=device)]))
    scores = torch.log_softmax((out @ table.T.to(out.dtype)).float(), -1)
    each = scores.gather(-1, goal.clamp(min=0)[..., None])[..., 0] * (goal >= 0)
    final = scores[torch.arange(len(rows), device=device), last]
    total = each.sum(1) + final[:, ends].logsumexp(-1)
    most = torch.full((len(said),), -1e9, device=device)
    most = most.scatter_reduce(0, whose, total.detach(), "amax")
    some = torch.zeros_like(most).scatter_add(0, whose, (total - most[whose]).exp())
    return most + some.clamp(min=1e-30).log()


class Clips:
    """All clips on the device."""

    def __init__(self, folders: list[Path], device: str) -> None:
        self.at, self.length, self.text = [], [], []
        waves, begun = [], 0
        for folder in folders:
            for index in sorted(folder.glob("*.jsonl")):
                wave = recorded.samples(index)
                for line in index.read_text(encoding="utf-8").splitlines():
                    clip = json.loads(line)
                    text = normal(clip["text"])
                    if text and clip["at"] + clip["n"] <= len(wave):
                        self.at.append(begun + clip["at"])
                        self.length.append(clip["n"])
                        self.text.append(text)
                waves.append(wave)
                begun += len(wave)
        self.waves = np.concatenate([*waves, np.zeros(RATE, dtype=np.int16)])
        self.speech = torch.from_numpy(self.waves).to(device)


def _bank(seed: int) -> np.ndarray:
    return noises.bank(seed, 11, 20 * RATE, []).astype(np.float16)


def train(asked: argparse.Namespace) -> None:
    """Train, until the time is over."""
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(asked.seed)
    rng, began = random.Random(asked.seed), time.monotonic()
    with multiprocessing.get_context("spawn").Pool(asked.jobs) as pool:
        made = pool.map(_bank, range(asked.seed, asked.seed + asked.banks))
    found = recorded.pieces(
        asked.noise, 4 * asked.banks, 20 * RATE, np.random.default_rng(asked.seed)
    )
    noise = torch.from_numpy(np.concatenate((*made, found.astype(np.float16)))).to(device)
    clips, texts = Clips(asked.data, device), Texts(asked.model)
    print(
        f"{len(clips.at)} clips, {len(noise)} noises, {time.monotonic() - began:.0f} s", flush=True
    )
    augment, mel_of = Augment(clips.speech, noise, asked.seed), third.LogMel(device)
    encoder = third.Encoder(asked.model / "whisper.npz").to(device)
    net = Decoder(asked.model / "decoder.npz").to(device)
    average = {name: value.detach().clone() for name, value in net.named_parameters()}
    optimiser = torch.optim.AdamW(net.parameters(), lr=asked.rate, weight_decay=0.0,
                                  betas=(0.9, 0.98))  # fmt: skip
    by_length = sorted(range(len(clips.at)), key=lambda i: clips.length[i])
    queue: list[list[int]] = []
    step, mean, looked, began = 0, 30.0, 0.0, time.monotonic()
    while (spent := time.monotonic() - began) < asked.seconds:
        if not queue:
            at = rng.randrange(asked.batch)
            queue = [
                by_length[max(0, n) : n + asked.batch]
                for n in range(-at, len(by_length), asked.batch)
            ]
            queue = [some for some in queue if len(some) > 8]
            rng.shuffle(queue)
        some, part = queue.pop(), spent / asked.seconds
        for group in optimiser.param_groups:
            warm = min(1.0, (step + 1) / 150)
            group["lr"] = asked.rate * warm * (0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * part)))
        with torch.no_grad():
            where = torch.tensor([clips.at[i] for i in some], device=device)
            length = torch.tensor([clips.length[i] for i in some], device=device)
            wave, samples = augment(where, length, snr_low=-6.0)
            time_of = torch.arange(wave.shape[1], device=device)[None]
            silent = augment.happens(len(some), 0.8)[:, None]
            over = time_of >= (samples - int(SILENCE * RATE))[:, None]
            wave = torch.where(silent & over, 0.0, wave)
            tract = torch.randn(len(some), generator=augment.rng, device=device) * 4.5 + 10
            mel = mel_of(wave, tract.round().long().clamp(0, 20))
            mel = mel[:, : mel.shape[1] // 2 * 2]
            frames = (samples // 320).clamp(max=mel.shape[1] // 2)
            with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
                heard = encoder(mel, frames)[-1].float()
            seen = torch.arange(heard.shape[1], device=device)[None] < frames[:, None]
        with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
            scores = told(net, heard, seen, [clips.text[i] for i in some], texts)
        loss = -scores.mean()
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        step += 1
        keep = min(0.998, step / (step + 20))
        for name, value in net.named_parameters():
            average[name].lerp_(value.detach(), 1 - keep)
        mean = 0.95 * mean + 0.05 * float(loss.detach())
        if spent - looked > 20 or step == 1:
            looked = spent
            print(f"{spent:4.0f} s, step {step}, loss {mean:.3f}", flush=True)
    pack(
        asked.model / "decoder.npz",
        {n: average[n.replace(".", "_")].cpu().numpy() for n in net.names},
        asked.out,
    )
    print(step, "steps", flush=True)


def trained(path: Path) -> dict[str, np.ndarray]:
    """The weights of a file that are trained here, as they were before they were rounded."""
    with np.load(path) as packed:
        names = [n for n in packed.files if not n.endswith("#") and n not in FROZEN]
        return {
            n: packed[n].astype(np.float32)
            * (packed[f"{n}#"] if f"{n}#" in packed.files else np.float32(1))
            for n in names
        }


def pack(old: Path, weights: dict[str, np.ndarray], out: Path) -> None:
    """Write the program's file: `old` with these weights, rounded as there."""
    with np.load(old) as packed:
        made = _Packed({name: packed[name] for name in packed.files})
    for name, weight in weights.items():
        if f"{name}#" in made:
            made.keep(name, weight)
        else:
            made[name] = weight.astype(made[name].dtype)
    np.savez_compressed(out, **made)


def main() -> None:
    """Train or mix."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("data", type=Path, nargs="*")
    parser.add_argument("--model", type=Path, required=True)
    parser.add_argument("--noise", type=Path)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--seconds", type=float, default=400)
    parser.add_argument("--batch", type=int, default=256, help="utterances a batch")
    parser.add_argument("--rate", type=float, default=2e-4)
    parser.add_argument("--banks", type=int, default=8, help="times 11 made noises")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--mix", nargs=3, metavar=("NEW", "SHARE", "OUT"))
    asked = parser.parse_args()
    if asked.mix:
        new, share, out = asked.mix
        file = asked.model / "decoder.npz"
        was, now = trained(file), trained(Path(new))
        pack(file, {n: was[n] + float(share) * (now[n] - was[n]) for n in was}, Path(out))
        return
    train(asked)


if __name__ == "__main__":
    main()
