"""Fit the confidence: is the best phrase what was said?

    python calibrate.py hear MODEL ROWS.npz FOLDER... --noise DIR --jobs N [--seconds S]
    python calibrate.py fit ROWS.npz... --out ../models/en/confidence.npz
    python calibrate.py fit ROWS.npz... --beside ../models/en/confidence.npz

`hear` keeps the measures of clips of voices held out from training (`speak.py held`, `moments.py`),
of people's words, and of speech that is no command (`foreign.py`, calls, announcements in other
languages), each in quiet or in noise, with a grammar that contains it or one that does not: as
random phrases, or as a moment of a shipped checklist.  Noise: recordings (`recorded.py`) and what
`noises.py` makes.  `fit` fits the small networks on rows in the noises named in `recorded.TRAIN`
and in made ones, and tells how each family of voices fares that the fit did not hear, in the
recordings it did not hear; with `--beside`, how a confidence that there is already does on the same
rows, which is what a new one has to beat.  Imports numpy, scipy and the program itself.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import random
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import noises
import numpy as np
import recorded
import texts
import yaml
from scipy.optimize import minimize

from benchmarks.spoken_phrases import commands, readings, responses, shipped_moments
from handsfree.audio import SAMPLE_RATE, to_int16
from handsfree.hearing.own.confidence import MEASURES
from handsfree.hearing.own.recogniser import OwnRecogniser
from handsfree.hearing.types import Grammar, Hypothesis, normal
from handsfree.language.loader import load_language
from handsfree.sound.mixing import mix_at_snr

MEASURED = {"heart", "rms", "af_heart", "bm_lewis"}
"""Voices that neither train nor calibrate."""

JUDGES = {"en", "sentences", "digits"}
"""Families that people spoke and that only judge."""

NUMBER_WORDS = " ".join(texts.ONES + texts.TEENS + texts.TENS).split() + [
    "oh", "niner", "hundred", "thousand", "point", "decimal", "minus", "negative", "and", "a",
    "an", "half", "halves", "quarter", "quarters", "third", "thirds", "eighth", "eighths",
    "tenth", "tenths",
]
TEN = texts.ONES


@dataclass(frozen=True)
class Clip:
    """family: of synthesisers, or a name of `recorded.PEOPLE` or `JUDGES`.  what: its kind in
    `moments.py`, or ""."""

    family: str
    voice: str
    text: str
    what: str
    wave: recorded.Wave


def clips(folders: list[Path]) -> list[Clip]:
    """All of them."""
    found = []
    for folder in folders:
        for index in sorted(folder.glob("*.jsonl")):
            wave = recorded.samples(index)
            for line in index.read_text(encoding="utf-8").splitlines():
                told = json.loads(line)
                piece = wave[told["at"] : told["at"] + told["n"]]
                if len(piece) == told["n"]:
                    found.append(Clip(index.stem.split("-")[0], told["voice"],
                                      normal(told["text"]), told.get("what", ""), piece))
    return found


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


class Expecting:
    """What may be said when a clip is heard, drawn by chance."""

    def __init__(self, everything: list[Clip], rng: random.Random) -> None:
        language = load_language("en")
        self._moments = shipped_moments(language)
        self._placed = {
            "commands": commands(self._moments, language, random.Random(2)),
            "hold responses": responses(self._moments),
            "readings": readings(self._moments, language),
        }
        self._kinds = {kind: [m for m in self._moments if m.kind == kind]
                       for kind in ("step", "hold", "reading", "confirm")}
        self._phrases = pool()
        self._units = [normal(u) for u in texts.listed(texts.UNITS)]
        self._everything = [c.text for c in everything if c.text]
        self._words = frozenset(c.text for c in everything if c.family == "words")
        self._rng = rng

    def __call__(self, clip: Clip) -> tuple[Grammar, Any, str]:
        """The grammar, the moment it belongs to or None, and a name for the case."""
        rng = self._rng
        if clip.family == "digits":
            return Grammar(frozenset(TEN)), None, "digits"
        if clip.family == "words" and rng.random() < 0.5:
            return Grammar(self._words), None, "words"
        if clip.what:
            placed = self._placed[clip.what].get(clip.text)
            if placed is not None and rng.random() < 0.85:
                return placed.grammar, placed, clip.what
        if clip.what or not clip.text or clip.family == "words" or rng.random() < 0.15:
            kind = rng.choice(("step", "hold", "hold", "reading", "confirm"))
            moment = rng.choice(self._kinds[kind])
            return moment.grammar, moment, f"other at {kind}"
        return self._at_random(clip.text), None, "random"

    def _at_random(self, text: str) -> Grammar:
        rng = self._rng
        words = set(text.split())
        number = bool(words) and words <= set(NUMBER_WORDS) | set(" ".join(self._units).split())
        use = rng.random()
        some = set(rng.sample(self._phrases, rng.randint(3, 45))) - {text}
        some |= {rng.choice(self._everything)} - {text}
        with_numbers = number and use < 0.4 or rng.random() < 0.15
        if text and use < 0.55 and not (with_numbers and number):
            some.add(text)
        if text and rng.random() < 0.5:
            some.add(near(rng, text, self._phrases))
            if use >= 0.55:
                some.discard(text)
        few = rng.sample(self._units, 3)
        spoken = [u for u in self._units if text.endswith(" " + u)]
        if use < 0.55 or rng.random() < 0.5:
            few += spoken[:1]
        return Grammar(
            frozenset(some),
            frozenset(NUMBER_WORDS) if with_numbers else frozenset(),
            frozenset(few) if with_numbers else frozenset(),
        )


def sounded(clip: Clip, rng: random.Random, noise: dict[str, list[np.ndarray]]
            ) -> tuple[recorded.Wave, str, float]:
    """The clip as the endpointer hands it over, the name of its noise ("" for none), the ratio."""
    lead, tail = rng.uniform(0.18, 0.45), rng.choice((0.16, 0.34, 0.5, 0.5))
    sound = np.concatenate([np.zeros(int(lead * SAMPLE_RATE)), clip.wave,
                            np.zeros(int(tail * SAMPLE_RATE))])
    hiss = np.random.default_rng(rng.getrandbits(32)).normal(0, 3, len(sound))
    sound = to_int16(sound * 10 ** (rng.uniform(-20, 3) / 20) + hiss)
    if rng.random() < 0.13:
        return sound, "", 99.0
    # What fits is heard in the noises that fit, what judges in those that judge, but for a few.
    across = rng.random() < 0.1
    judges = clip.voice in MEASURED or clip.family in JUDGES
    name = rng.choice([one for one in sorted(noise)
                       if across or (one in recorded.JUDGE) == judges])
    piece = noise[name][rng.randrange(len(noise[name]))]
    start = rng.randrange(len(piece))
    under = np.take(piece, np.arange(len(sound)) + start, mode="wrap")
    snr = rng.choice((5.0, 10.0, 15.0)) if name in recorded.JUDGE else rng.uniform(0, 20)
    return mix_at_snr(sound, to_int16(under * 3000), snr), name, snr


def heard(part: tuple[argparse.Namespace, int]) -> list[dict[str, Any]]:
    """One process's share of the rows."""
    asked, number = part
    rng = random.Random(f"{asked.seed} {number}")
    everything = clips(asked.folders)
    noise = {name: [noises.unit(wave.astype(np.float32))] for name, wave in
             recorded.noises(asked.noise, recorded.TRAIN + recorded.JUDGE).items()}
    made = noises.bank(asked.seed + number, 44, 12 * SAMPLE_RATE,
                       [c.wave / 32768 for c in everything[:200]])
    noise["made"] = list(made)
    noise["made too"] = list(made)
    expecting = Expecting(everything, rng)
    recogniser = OwnRecogniser(asked.model, load_language("en").pronunciations)
    mine = everything[number :: asked.jobs]
    ends, rows = time.monotonic() + asked.seconds, []
    for _ in range(asked.rounds):
        rng.shuffle(mine)
        for clip in mine:
            if time.monotonic() > ends:
                return rows
            grammar, moment, case = expecting(clip)
            sound, name, snr = sounded(clip, rng, noise)
            recogniser.expect(grammar)
            recogniser.begin()
            recogniser.feed(sound)
            recogniser._finished(True)  # as `finish`, but that nothing is written down freely
            row = {"family": clip.family, "voice": clip.voice, "case": case, "noise": name,
                   "snr": snr, "said": clip.text, "may": grammar.allows(clip.text),
                   "needs": 0.8, "acts": True}
            ranked = recogniser.candidates() if recogniser.heard_speech else []
            if not ranked:
                rows.append(row | {"best": "", "right": False, "place": -1, "x": None})
                continue
            best = ranked[0].text
            right = best == clip.text
            if moment is not None and clip.text and not right:
                meant = moment.meaning(clip.text) if row["may"] else None
                right = meant is not None and moment.meaning(best) == meant
            by_ear = sorted(ranked, key=lambda c: -c.heard)
            place = next((at for at, c in enumerate(by_ear) if c.text == clip.text), -1)
            if moment is not None:
                told = Hypothesis(best, 1.0, 0.0, 0.0)
                row |= {"needs": moment.needs(told), "acts": moment.means(told) is not None}
            rows.append(row | {"best": best, "right": right, "place": place,
                               "x": recogniser.measured(ranked).astype(np.float32)})
    return rows


def save(path: Path, rows: list[dict[str, Any]]) -> None:
    """Rows by column; those in which nothing was heard have measures of NaN."""
    size = len(MEASURES)
    np.savez_compressed(
        path, x=np.array([np.full(size, np.nan) if r["x"] is None else r["x"] for r in rows],
                         dtype=np.float32),
        **{name: np.array([r[name] for r in rows]) for name in
           ("family", "voice", "case", "noise", "snr", "said", "may", "best", "right", "place",
            "needs", "acts")})


PARTS = 5
"""As many small networks, each of which is fitted without one part of the rows."""

HIDDEN, DECAY = 20, 3e-4


def weights_of(flat: np.ndarray, size: int) -> tuple[np.ndarray, ...]:
    """Into, its bias, out, its bias."""
    cut = size * HIDDEN
    return flat[:cut].reshape(size, HIDDEN), flat[cut : cut + HIDDEN], flat[
        cut + HIDDEN : cut + 2 * HIDDEN], flat[-1:]


def fitted(
    x: np.ndarray, y: np.ndarray, weight: np.ndarray, seed: int, old: np.ndarray | None, pull: float
) -> tuple[np.ndarray, ...]:
    """One network: log-loss with weight decay towards zero, or from `old` and with `pull` towards
    it, by L-BFGS."""
    size = x.shape[1]
    start, decay, home = old, pull, old
    if start is None or home is None:
        start = np.random.default_rng(seed).normal(0, 0.25, size * HIDDEN + 2 * HIDDEN + 1)
        decay, home = DECAY, np.zeros_like(start)

    def loss(flat: np.ndarray) -> tuple[float, np.ndarray]:
        into, into_bias, out, out_bias = weights_of(flat, size)
        hidden = np.tanh(x @ into + into_bias)
        logit = hidden @ out + out_bias
        value = weight @ (np.logaddexp(0, logit) - y * logit)
        wrong = weight * (1 / (1 + np.exp(-logit)) - y)
        back = np.outer(wrong, out) * (1 - hidden**2)
        gradient = np.concatenate([(x.T @ back).ravel(), back.sum(0), hidden.T @ wrong,
                                   [wrong.sum()]])
        away = flat - home
        return value + decay * away @ away, gradient + 2 * decay * away

    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 300})
    return weights_of(found.x, size)


def fit(
    x: np.ndarray, y: np.ndarray, weight: np.ndarray, seed: int,
    old: dict[str, np.ndarray] | None = None, pull: float = 0.0,
) -> dict[str, np.ndarray]:
    """The file's arrays; from those of `old` on, when given."""
    mean, spread = (old["mean"], old["spread"]) if old else (x.mean(0), x.std(0) + 1e-6)
    seen = (x - mean) / spread
    part = np.random.default_rng(seed).permutation(len(y)) % PARTS
    nets = []
    for n in range(PARTS):
        start = np.concatenate([old["into"][n].ravel(), old["into_bias"][n], old["out"][n],
                                old["out_bias"][n : n + 1]]) if old else None
        use = part != n
        nets.append(fitted(
            seen[use], y[use], weight[use] / weight[use].sum(), seed + n, start, pull))
    into, into_bias, out, out_bias = (np.stack(some) for some in zip(*nets, strict=True))
    return {"mean": mean, "spread": spread, "into": into, "into_bias": into_bias, "out": out,
            "out_bias": out_bias[:, 0]}


def sure_of(found: dict[str, np.ndarray], x: np.ndarray) -> np.ndarray:
    """Confidence of rows."""
    seen = (x - found["mean"]) / found["spread"]
    total = np.zeros(len(x))
    for into, bias, out, last in zip(found["into"], found["into_bias"], found["out"],
                                     found["out_bias"], strict=True):
        total += 1 / (1 + np.exp(-(np.tanh(seen @ into + bias) @ out + last)))
    return total / len(found["into"])


class Rows:
    """Rows of one or several files."""

    def __init__(self, paths: list[Path]) -> None:
        parts = [dict(np.load(path)) for path in paths]
        self.columns = {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}
        self.x = self.columns["x"].astype(np.float64)
        self.heard = ~np.isnan(self.x[:, 0])
        self.judged_noise = np.isin(self.columns["noise"], recorded.JUDGE)
        self.fits = self.heard & ~self.judged_noise & ~np.isin(
            self.columns["voice"], list(MEASURED)) & ~np.isin(self.columns["family"], list(JUDGES))

    def weights(self, wrong: float, misheard: float) -> np.ndarray:
        """Speech that is no command counts `wrong` times as much as what was heard rightly, and
        what might be said and was misheard `misheard` times."""
        c = self.columns
        return np.where(c["may"], np.where(c["right"], 1.0, misheard), wrong)


def pooled(rows: Rows, sure: np.ndarray, which: np.ndarray) -> None:
    """One line of all rows together: log-loss, and what is taken at the confidence that it needs."""
    c = rows.columns
    y, p = c["right"][which], np.clip(sure[which], 1e-6, 1 - 1e-6)
    taken = (sure >= c["needs"]) & c["acts"] & rows.heard & which
    right = c["may"] & c["right"]
    print(f"  log-loss {-np.mean(np.log(np.where(y, p, 1 - p))):.4f}; taken: {(taken & right).sum()}"
          f" of {(which & right).sum()} that are right, {(taken & c['may'] & ~right).sum()} misheard,"
          f" {(taken & ~c['may']).sum()} of {(which & ~c['may']).sum()} that may not be said")


def report(rows: Rows, sure: np.ndarray, which: np.ndarray, title: str) -> None:
    """Best guess (0.5), taken and right (0.8) and taken wrongly by case and ratio; of what may not be
    said, the shares that are asked about and taken."""
    c = rows.columns
    print(title)
    pooled(rows, sure, which)
    for case in ("commands", "hold responses", "readings", "random", "words", "digits"):
        for low, high in ((90, 100), (12.5, 20.1), (7.5, 12.5), (2.5, 7.5)):
            some = which & (c["case"] == case) & c["may"] & (c["snr"] >= low) & (c["snr"] < high)
            if some.sum() >= 20:
                right, s = c["right"][some], sure[some]
                print(f"  {case:15} {low:5} dB n {some.sum():5}  best {np.mean(right):.3f}"
                      f"  guess {np.mean(right & (s >= 0.5)):.3f}"
                      f"  taken {np.mean(right & (s >= 0.8)):.3f}"
                      f"  wrongly {np.mean(~right & (s >= 0.8)):.4f}")
    others = which & ~c["may"]
    for case in ("other at step", "other at hold", "other at reading", "other at confirm", "random"):
        some = others & (c["case"] == case)
        if some.sum() >= 20:
            s, acts = sure[some], c["acts"][some]
            print(f"  {case:17} n {some.sum():5}  asked {np.mean(acts & (s >= 0.5)):.4f}"
                  f"  taken {np.mean(acts & (s >= c['needs'][some])):.4f}")


def main() -> None:
    """Calibrate."""
    parser = argparse.ArgumentParser(description=__doc__)
    does = parser.add_subparsers(dest="does", required=True)
    hear = does.add_parser("hear")
    hear.add_argument("model", type=Path)
    hear.add_argument("rows", type=Path)
    hear.add_argument("folders", type=Path, nargs="+")
    hear.add_argument("--noise", type=Path, required=True)
    hear.add_argument("--jobs", type=int, default=2)
    hear.add_argument("--rounds", type=int, default=3)
    hear.add_argument("--seconds", type=float, default=1e9)
    hear.add_argument("--seed", type=int, default=3)
    fits = does.add_parser("fit")
    fits.add_argument("rows", type=Path, nargs="+")
    fits.add_argument("--out", type=Path)
    fits.add_argument("--wrong", type=float, default=1.0,
                      help="how much more speech counts that is no command")
    fits.add_argument("--misheard", type=float, default=1.0,
                      help="how much more a phrase counts that was taken for another")
    fits.add_argument("--beside", type=Path, help="a confidence that is told on the same rows")
    fits.add_argument("--pull", type=float, default=0.0,
                      help="go on from that one, with so much decay towards it")
    fits.add_argument("--seed", type=int, default=3)
    fits.add_argument("--families", action="store_true", help="leave each family out in turn")
    asked = parser.parse_args()
    if asked.does == "hear":
        file = asked.model / "confidence.npz"
        if not file.exists():
            size = len(MEASURES)
            np.savez(file, into=np.zeros((1, size, 1)), into_bias=np.zeros((1, 1)),
                     out=np.zeros((1, 1)), out_bias=np.zeros(1), mean=np.zeros(size),
                     spread=np.ones(size))  # fmt: skip
        parts = [(asked, number) for number in range(asked.jobs)]
        rows: list[dict[str, Any]] = []
        with multiprocessing.get_context("spawn").Pool(asked.jobs) as processes:
            for some in processes.imap_unordered(heard, parts):
                rows += some
        save(asked.rows, rows)
        print(len(rows), "rows")
        return
    rows = Rows(asked.rows)
    y, weight = rows.columns["right"].astype(float), rows.weights(asked.wrong, asked.misheard)
    old = dict(np.load(asked.beside)) if asked.beside else None
    if old:
        sure = np.where(rows.heard, sure_of(old, np.nan_to_num(rows.x)), 0.0)
        report(rows, sure, (rows.judged_noise | (rows.columns["noise"] == "")) & ~rows.fits,
               f"{asked.beside} on what judges")
        report(rows, sure, rows.fits, f"{asked.beside} on what fits")
    left_out = np.zeros(len(y))
    for title, out in _turns(rows, asked.families):
        use = rows.fits & ~out
        found = fit(rows.x[use], y[use], weight[use], asked.seed,
                    old if asked.pull else None, asked.pull)
        sure = np.where(rows.heard, sure_of(found, np.nan_to_num(rows.x)), 0.0)
        new = rows.judged_noise | (rows.columns["noise"] == "")
        report(rows, sure, new & (out if out.any() else ~rows.fits), title)
        left_out[out] = sure[out]
        if not out.any() and asked.out:
            np.savez(asked.out, **{k: v.astype(np.float32) for k, v in found.items()})
    if asked.families:
        print("what fits, each family by the fit that lacked it")
        pooled(rows, left_out, rows.fits)


def _turns(rows: Rows, families: bool) -> Iterator[tuple[str, np.ndarray]]:
    """What is left out of the fit: nothing but the judges, or a family more."""
    yield "judges (voices, noises and people that nothing was fitted on)", np.zeros(
        len(rows.x), dtype=bool)
    if families:
        for family in sorted(set(rows.columns["family"]) - JUDGES):
            yield f"without {family}", rows.columns["family"] == family


if __name__ == "__main__":
    main()
