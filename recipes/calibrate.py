"""Fit the confidence: is the best phrase what was said?

    python calibrate.py FOLDER models/en --rounds 3

FOLDER holds clips of voices held out from training (as `speak.py held` writes them) and speech of
other languages (`foreign.py`); voices named in `MEASURED` are left to the benchmark.  Every clip is
heard several times: quiet or in noise, with a grammar that contains it or one that does not.
Imports numpy, torch and the program itself.
"""

from __future__ import annotations

import argparse
import json
import random
from pathlib import Path

import noises
import numpy as np
import texts
import torch
import yaml
from torch.nn import functional as F

from handsfree.audio import SAMPLE_RATE, to_int16
from handsfree.hearing.own.confidence import MEASURES
from handsfree.hearing.own.recogniser import OwnRecogniser
from handsfree.hearing.types import Grammar, normal
from handsfree.sound.mixing import mix_at_snr

MEASURED = {"heart", "rms", "af_heart", "bm_lewis"}
"""Voices that neither train nor calibrate."""

NUMBER_WORDS = " ".join(texts.ONES + texts.TEENS + texts.TENS).split() + [
    "oh", "niner", "hundred", "thousand", "point", "decimal", "minus", "negative", "and", "a",
    "an", "half", "halves", "quarter", "quarters", "third", "thirds", "eighth", "eighths",
    "tenth", "tenths",
]


def pool() -> list[str]:
    """Phrases that may be expected: of the language file and of the recipe."""
    root = Path(__file__).resolve().parents[1]
    language = yaml.safe_load((root / "handsfree/languages/en.yaml").read_text(encoding="utf-8"))
    said = {normal(p) for some in language["commands"].values() for p in some}
    return sorted(said | {normal(p) for p in texts.listed(texts.ORDERS)})


def near(rng: random.Random, text: str, others: list[str]) -> str:
    """A phrase like `text`: a word less, a word more, or a word exchanged."""
    words, more = text.split(), rng.choice(others).split()
    at, kind = rng.randrange(len(words)), rng.random()
    if kind < 0.4 and len(words) > 1:
        return " ".join(words[:at] + words[at + 1 :])
    if kind < 0.7:
        return " ".join([*words[:at], rng.choice(more), *words[at:]])
    return " ".join([*words[:at], rng.choice(more), *words[at + 1 :]])


def collect(folder: Path, recogniser: OwnRecogniser, rounds: int, seed: int) -> np.ndarray:
    """Rows of measures with, last, whether the best text was right."""
    rng = random.Random(seed)
    phrases = pool()
    units = [normal(u) for u in texts.listed(texts.UNITS)]
    clips = []
    for index in sorted(folder.glob("*.jsonl")):
        wave = np.fromfile(index.with_suffix(".pcm"), dtype=np.int16)
        for line in index.read_text(encoding="utf-8").splitlines():
            clip = json.loads(line)
            if clip["voice"] not in MEASURED:
                clips.append((normal(clip["text"]), wave[clip["at"] : clip["at"] + clip["n"]]))
    everything = [text for text, _ in clips]
    noise = noises.bank(seed, 66, 12 * SAMPLE_RATE, [w / 32768 for _, w in clips[:200]])
    rows = []
    for _ in range(rounds):
        for text, wave in clips:
            words = set(text.split())
            number = bool(words) and words <= set(NUMBER_WORDS) | set(" ".join(units).split())
            use = rng.random()
            some = set(rng.sample(phrases, rng.randint(3, 45))) - {text}
            some |= {rng.choice(everything)} - {text}
            with_numbers = number and use < 0.4 or rng.random() < 0.15
            if text and use < 0.55 and not (with_numbers and number):
                some.add(text)
            if text and rng.random() < 0.5:
                some.add(near(rng, text, phrases))
                if use >= 0.55:
                    some.discard(text)
            few = rng.sample(units, 3)
            spoken = [u for u in units if text.endswith(" " + u)]
            if use < 0.55 or rng.random() < 0.5:
                few += spoken[:1]
            recogniser.expect(Grammar(
                frozenset(some),
                frozenset(NUMBER_WORDS) if with_numbers else frozenset(),
                frozenset(few) if with_numbers else frozenset(),
            ))  # fmt: skip
            lead, tail = rng.uniform(0.1, 0.5), rng.uniform(0.25, 0.6)
            sound = np.concatenate([
                np.zeros(int(lead * SAMPLE_RATE)), wave, np.zeros(int(tail * SAMPLE_RATE))])
            alone = rng.random() < 0.05
            if alone:
                sound, text = sound * 0, ""
            sound = to_int16(sound * 10 ** (rng.uniform(-25, 3) / 20)
                             + np.random.default_rng(rng.getrandbits(32)).normal(0, 3, len(sound)))
            if rng.random() < 0.8:
                piece = noise[rng.randrange(len(noise))]
                start = rng.randrange(len(piece) - len(sound))
                under = to_int16(piece[start : start + len(sound)] * 3000)
                sound = mix_at_snr(sound, under, rng.uniform(-3, 25)) if not alone else under
            recogniser.begin()
            recogniser.feed(sound)
            recogniser.finish()
            ranked = recogniser.candidates()
            if ranked and recogniser.heard_speech:
                rows.append([*recogniser.measured(ranked), ranked[0].text == text])
    return np.array(rows, dtype=np.float64)


PARTS = 5
"""As many small networks, each of which is fitted without one part of the rows."""


def fit(rows: np.ndarray, seed: int) -> dict[str, np.ndarray]:
    """The small networks' weights; log-loss with weight decay, for there are few rows.

    What is printed is what each network says of the rows that it was not fitted on; another
    hearing of the same clip may have been among those it was.
    """
    x, y = rows[:, :-1], torch.tensor(rows[:, -1], dtype=torch.float32)
    mean, spread = x.mean(0), x.std(0) + 1e-6
    seen = torch.tensor((x - mean) / spread, dtype=torch.float32)
    part = torch.arange(len(y)) % PARTS
    sure, weights = torch.zeros(len(y)), []
    for number in range(PARTS):
        torch.manual_seed(seed + number)
        net = torch.nn.Sequential(
            torch.nn.Linear(x.shape[1], 16), torch.nn.Tanh(), torch.nn.Linear(16, 1))
        optimiser = torch.optim.AdamW(net.parameters(), lr=0.01, weight_decay=0.3)
        test = part == number
        for step in range(1500):
            for group in optimiser.param_groups:
                group["lr"] = 0.01 * (1 - step / 1500)
            loss = F.binary_cross_entropy_with_logits(net(seen[~test])[:, 0], y[~test])
            optimiser.zero_grad()
            loss.backward()
            optimiser.step()
        with torch.no_grad():
            sure[test] = torch.sigmoid(net(seen[test])[:, 0])
        weights.append([p.detach().numpy() for p in net.parameters()])
    right = y > 0.5
    print(f"{len(y)} utterances, {float(y.mean()):.2f} right; "
          f"log-loss {float(F.binary_cross_entropy(sure, y)):.3f}")
    for limit in (0.5, 0.8, 0.9, 0.95, 0.98, 0.99):
        taken = sure >= limit
        print(f"at {limit}: {float((taken & right).sum() / right.sum()):.3f} of the right ones, "
              f"{float((taken & ~right).sum() / (~right).sum()):.4f} of the wrong ones")
    into, into_bias, out, out_bias = (np.stack(some) for some in zip(*weights, strict=True))
    return {
        "mean": mean, "spread": spread, "into": into.transpose(0, 2, 1), "into_bias": into_bias,
        "out": out[:, 0], "out_bias": out_bias[:, 0],
    }  # fmt: skip


def main() -> None:
    """Calibrate."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("model", type=Path)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--rows", type=Path, nargs="+", default=[],
                        help="keep the measures here, or take them from here")  # fmt: skip
    asked = parser.parse_args()
    file = asked.model / "confidence.npz"
    if len(asked.rows) > 1 and not all(some.exists() for some in asked.rows):
        parser.error("several --rows are taken together; one of them is not there.")
    if asked.rows and all(some.exists() for some in asked.rows):
        rows = np.concatenate([np.load(some) for some in asked.rows])
    else:
        if not file.exists():
            size = len(MEASURES)
            np.savez(file, into=np.zeros((1, size, 1)), into_bias=np.zeros((1, 1)),
                     out=np.zeros((1, 1)), out_bias=np.zeros(1), mean=np.zeros(size),
                     spread=np.ones(size))  # fmt: skip
        recogniser = OwnRecogniser(asked.model)
        rows = collect(asked.folder, recogniser, asked.rounds, asked.seed)
        if asked.rows:
            np.save(asked.rows[0], rows)
    np.savez(file, **fit(rows, asked.seed))


if __name__ == "__main__":
    main()
