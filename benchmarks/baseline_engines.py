"""The engines that are measured, the plain one among them, and what each needs of memory.

May import the hearing room's engines; pocketsphinx late.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.errors import HandsfreeError
from handsfree.hearing.engines import open_recogniser, vosk_model
from handsfree.hearing.types import Grammar, Hypothesis, Recogniser, Rejection, normal

OWN, GATED, RAW, VOSK = "own", "pocketsphinx", "pocketsphinx raw", "vosk"
ENGINES = (OWN, GATED, RAW, VOSK)

_WEIGH = """
import sys
from pathlib import Path
from benchmarks.memory import peak_megabytes
from benchmarks.baseline_engines import open_engine
from handsfree.hearing.types import Grammar
from handsfree.language.loader import load_language
from handsfree.sound.noise import noise
language = load_language("en")
name, vosk, model = sys.argv[1:]
engine = open_engine(name, language.pronunciations, Path(vosk) if vosk else None,
                     Path(model) if model else None)
engine.expect(Grammar(frozenset(p for some in language.commands.values() for p in some)))
sound = noise("pink", 4.0)
for _ in range(10):
    engine.begin()
    engine.feed(sound)
    engine.finish()
print(round(peak_megabytes()))
"""


class PlainPocketSphinx:
    """PocketSphinx with its own model and a grammar, and nothing of ours around it."""

    name = RAW

    def __init__(self, pronunciations: Mapping[str, Sequence[str]]) -> None:
        from pocketsphinx import Decoder

        # Its search for a better path through the lattice finds worse ones, and takes seconds.
        self._decoder = Decoder(samprate=SAMPLE_RATE, loglevel="FATAL", lm=None, bestpath=False)
        self._known: set[str] = set()
        self._given = pronunciations

    def expect(self, grammar: Grammar) -> None:
        """Compile the grammar; words it cannot say are taught from the language file or espeak."""
        from handsfree.hearing.pronunciation import pronounce

        missing = [w for w in grammar.words if self._decoder.lookup_word(w) is None]
        found = {w: self._given[w][0] for w in missing if w in self._given}
        found |= pronounce(w for w in missing if w not in found)
        for word, sounds in found.items():
            if sounds and word not in self._known:
                self._decoder.add_word(word, sounds, True)
                self._known.add(word)
        rules = [f"({' | '.join(sorted(grammar.phrases))})"] if grammar.phrases else []
        if grammar.numbers:
            units = f"[{' | '.join(sorted(grammar.units))}]" if grammar.units else ""
            rules.append(f"(({' | '.join(sorted(grammar.numbers))})+ {units})")
        text = f"#JSGF V1.0;\ngrammar g;\npublic <s> = {' | '.join(rules)};\n"
        self._decoder.add_jsgf_string("g", text)
        self._decoder.activate_search("g")

    def begin(self) -> None:
        """Start an utterance."""
        self._decoder.start_utt()

    def feed(self, samples: Samples) -> None:
        """Take sound."""
        self._decoder.process_raw(samples.tobytes(), no_search=False, full_utt=False)

    def finish(self) -> Hypothesis | Rejection:
        """What it says; it has no calibrated confidence, so what it says counts as sure."""
        self._decoder.end_utt()
        found = self._decoder.hyp()
        if found is None or not found.hypstr:
            return Rejection("unclear", 0.0, 0.0, engine=self.name)
        return Hypothesis(normal(found.hypstr), 1.0, 0.0, 0.0, engine=self.name)

    def close(self) -> None:
        """Nothing to give back."""


def present(vosk: Path | None, only: Sequence[str] = ()) -> Iterator[str]:
    """The names of the engines that can be measured here: those wanted, or all."""
    for name in ENGINES:
        if only and name not in only:
            continue
        if name == VOSK and vosk is None and vosk_model("en", None) is None:
            continue
        yield name


def open_engine(
    name: str, pronunciations: Mapping[str, Sequence[str]], vosk: Path | None, model: Path | None
) -> Recogniser:
    """An engine by its name here; `vosk` and `model`: folders of models other than the usual."""
    if name == RAW:
        return PlainPocketSphinx(pronunciations)
    if name == OWN:
        from handsfree.hearing.own import OwnRecogniser

        return OwnRecogniser(model, pronunciations)
    return open_recogniser(name, "en", vosk, pronunciations)


def megabytes(name: str, vosk: Path | None, model: Path | None) -> int:
    """Largest memory of a process of its own that opens the engine and hears 40 s of noise.

    Raises:
        HandsfreeError: it ended otherwise.
    """
    ran = subprocess.run([sys.executable, "-c", _WEIGH, name, str(vosk or ""), str(model or "")],
                         capture_output=True, text=True, check=False,
                         env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])})
    if ran.returncode:
        raise HandsfreeError(f"the engine {name} cannot be weighed ({ran.stderr.strip()[-200:]}).")
    return int(ran.stdout.split()[-1])
