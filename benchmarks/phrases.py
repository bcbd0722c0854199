"""`python -m benchmarks phrases`: which phrases of the shipped checklists do not carry in noise.

Every response of a hold point and of an alarm, every wording of every command, and readings, said
by voices in recorded noise and heard against all that may be said at their moment, cut out or live;
what is not taken nine times in ten gets another wording, which can be tried here first.  May import
everything of the program.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import click
import numpy as np

from benchmarks.baseline_engines import OWN, open_engine
from benchmarks.gate import bare
from benchmarks.jobs import Share, in_processes
from benchmarks.outdoors import TRAINED, level_of, listened
from benchmarks.recordings import sounds_in, without_end
from benchmarks.results_file import NowAndThen, check_place, write_results
from benchmarks.speakers import check_voices, framed, speakers
from benchmarks.spoken_phrases import commands, readings, shipped_moments
from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.checklist.loader import load_checklist
from handsfree.errors import InputError
from handsfree.hearing.listening import Listener
from handsfree.hearing.own.reading_grammar import meaning
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser, normal
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.language.natural_wordings import sayings_of
from handsfree.session.phrase_trial import own_phrases
from handsfree.session.understanding import Bands
from handsfree.sound.mixing import mix_at_snr
from handsfree.storage.paths import checklists_folder

LEAST = 0.9
"""Share of the times at which a phrase has to be taken."""


@dataclass(frozen=True)
class Asked:
    """A phrase, what it is, all that may be said when it is, and which of that comes to the same.
    needs: confidence with which it is acted on."""

    kind: str
    text: str
    grammar: Grammar = field(repr=False)
    same: frozenset[str] = field(repr=False)
    needs: float = Bands().certain


@dataclass(frozen=True)
class Part:
    """What one process hears."""

    share: Share
    kinds: tuple[str, ...]
    instead: tuple[tuple[str, str], ...]
    only: tuple[str, ...]
    noises: tuple[Path, ...]
    snrs: tuple[float, ...]
    voices: tuple[str, ...]
    seed: int
    live: bool = False
    turns: bool = False


@dataclass
class Tally:
    """What came of a phrase.

    wrong: taken for something else.  lowest: confidence of the time it was heard worst, 0 for none
    or for another phrase.  instead: what it was taken for or nearest to, when it was not heard.
    lost: voice, noise, decibels and confidence of the times it was not taken.  at: times and times
    taken at each ratio.
    """

    kind: str
    text: str
    times: int = 0
    taken: int = 0
    wrong: int = 0
    lowest: float = 1.0
    instead: Counter[str] = field(default_factory=Counter)
    lost: list[str] = field(default_factory=list)
    at: dict[str, list[int]] = field(default_factory=dict)

    @property
    def carries(self) -> bool:
        """Whether it is taken often enough."""
        return self.taken >= LEAST * self.times


def hold_phrases(language: Language) -> Iterator[Asked]:
    """Each response of a hold point and of an alarm in the library, once."""
    seen = set()
    for path in sorted(checklists_folder().glob("*.yaml")):
        for own in own_phrases(load_checklist(path, library=checklists_folder()), language, False):
            if own.text not in seen:
                seen.add(own.text)
                yield Asked("response", own.text, own.grammar, _same(own.grammar, own.text))


def _same(grammar: Grammar, text: str) -> frozenset[str]:
    """What comes to the same: "okay chocks set" for "chocks set"."""
    return next((some for some in grammar.alike if text in some), frozenset({text}))


def command_phrases(language: Language) -> Iterator[Asked]:
    """Each wording of each command, at a moment of arriving or departing."""
    bands = Bands()
    placed = commands(shipped_moments(language), language, random.Random(1))
    for text, moment in sorted(placed.items()):
        yield Asked("command", text, moment.grammar, _same(moment.grammar, text),
                    moment.needs(Hypothesis(text, bands.certain, 0.0, 0.0)))


def reading_phrases(language: Language) -> Iterator[Asked]:
    """Readings as people say them, where they are due."""
    for text, moment in readings(shipped_moments(language), language).items():
        yield Asked("reading", text, moment.grammar, frozenset({text}))


def asked(part: Part) -> list[Asked]:
    """All phrases that are tried, new wordings in place of old ones.

    Raises InputError for an old wording that is none.
    """
    language = load_language("en")
    found = [one for kind in part.kinds for one in _KINDS[kind](language)]
    texts = {one.text: one for one in found}
    for old in (*(old for old, _ in part.instead), *part.only):
        if old not in texts:
            raise InputError(f"'{old}' is no phrase of the shipped checklists.")
    if part.instead:
        return [_reworded(texts[old], new, language) for old, new in part.instead]
    return [texts[text] for text in part.only] or found


_KINDS = {"response": hold_phrases, "command": command_phrases, "reading": reading_phrases}


def _reworded(one: Asked, text: str, language: Language) -> Asked:
    """A response stays beside its new wording, with all in which either is said or denied."""
    same = frozenset({text})
    if one.kind == "reading":
        return replace(one, text=text, same=same)
    phrases = one.grammar.phrases - one.same | same
    if one.kind == "response":
        sayings = sayings_of(language)
        same = one.same.union(sayings.ways(text))
        phrases = one.grammar.phrases.union(same, sayings.denied(text))
    return replace(one, text=text, same=same, grammar=replace(
        one.grammar, phrases=phrases, alike=one.grammar.alike - {one.same} | {same}))


def heard(part: Part) -> list[Tally]:
    """One process's share."""
    phrases = asked(part)
    engine = open_engine(OWN, load_language("en").pronunciations, None, None)
    voices = {name: say for name, say in speakers().items()
              if not part.voices or name in part.voices}
    noises = [_Noise(path, snr, engine, part.seed) for snr in part.snrs for path in part.noises]
    progress, found = NowAndThen(), []
    for number in part.share.numbers(len(phrases)):
        one = phrases[number]
        tally = Tally(one.kind, one.text)
        for turn, (voice, say) in enumerate(voices.items()):
            for place, noise in enumerate(noises):
                if part.turns and (number + turn + place) % len(part.noises):
                    continue
                rng = random.Random(f"{part.seed} {one.text} {voice} {noise.name}")
                sound = say(one.text.replace("psi", "P S I"), rng)
                answer = (noise.live if part.live else noise.cut)(one.grammar, sound, rng)
                _enter(tally, one, answer, f"{voice}, {noise.name}", f"{noise.snr:g} dB")
        found.append(tally)
        progress.tell(f"{part.share}: {number} of {len(phrases)}")
    engine.close()
    return found


class _Noise:
    """A noise at a ratio in decibels, live as a stream that goes on from phrase to phrase."""

    def __init__(self, path: Path, snr: float, engine: Recogniser, seed: int) -> None:
        self.name, self.snr, self._engine = path.stem, snr, engine
        self._whole = without_end(path)(60 * SAMPLE_RATE)
        self._pull = without_end(path, random.Random(f"{seed} {snr}").randrange(60 * SAMPLE_RATE))
        self._level, self._ear = level_of(self._pull), Listener(engine)

    def live(self, grammar: Grammar, speech: Samples, rng: random.Random) -> Heard:
        """Through gate, endpointing, early answers and recogniser."""
        self._ear.expect(grammar)
        return listened(self._ear, bare(speech), self._pull, self._level, self.snr)[0]

    def cut(self, grammar: Grammar, speech: Samples, rng: random.Random) -> Heard:
        """As an endpointer hands it over that hears where speech is."""
        sound = framed(speech, rng)
        at = rng.randrange(len(self._whole) - len(sound))
        self._engine.expect(grammar)
        self._engine.begin()
        self._engine.feed(mix_at_snr(sound, self._whole[at : at + len(sound)], self.snr))
        return self._engine.finish()


def _enter(tally: Tally, one: Asked, answer: Heard, where: str, snr: str) -> None:
    text = answer.text if isinstance(answer, Hypothesis) else answer.best
    right = text in one.same or one.kind == "reading" and text != "" and (
        meaning(text, one.grammar.unit) == meaning(one.text, one.grammar.unit))
    if isinstance(answer, Hypothesis) and answer.own_words and one.grammar.means is not None:
        right = one.grammar.means(text) == one.grammar.means(one.text)
    sure = answer.confidence if right else 0.0
    tally.times += 1
    at = tally.at.setdefault(snr, [0, 0])
    at[0] += 1
    tally.wrong += not right and isinstance(answer, Hypothesis) and answer.confidence >= one.needs
    tally.lowest = min(tally.lowest, sure)
    if sure >= one.needs:
        tally.taken += 1
        at[1] += 1
        return
    tally.lost.append(f"{where} {snr} {sure:.2f}")
    if not right:
        tally.instead[text or "nothing"] += 1


def show(found: list[Tally], everything: bool) -> None:
    """The phrases that do not carry, the worst first."""
    for kind in dict.fromkeys(one.kind for one in found):
        some = [one for one in found if one.kind == kind]
        shares = [one.taken / one.times for one in some]
        ratios = ", ".join(
            f"{snr} {sum(one.at[snr][1] for one in some) / sum(one.at[snr][0] for one in some):.3f}"
            for snr in some[0].at)
        click.echo(f"{kind}s: {len(some)}, taken {np.mean(shares):.3f} of the times ({ratios});"
                   f" {sum(one.wrong for one in some)} of {sum(one.times for one in some)} times"
                   f" wrongly; {sum(not one.carries for one in some)} less than {LEAST:.0%}")
    for one in sorted(found, key=lambda one: (one.taken / one.times, one.lowest)):
        if everything or not one.carries:
            click.echo(f"  {one.kind} '{one.text}': {one.taken} of {one.times}, lowest"
                       f" {one.lowest:.2f}"
                       + "".join(f"; '{other}' {n}" for other, n in one.instead.most_common(3))
                       + (f" ({'; '.join(one.lost)})" if one.lost and everything else ""))


def _pair(text: str) -> tuple[str, str]:
    old, equals, new = text.partition("=")
    if not equals or not normal(old) or not normal(new):
        raise InputError(f"'{text}' is not OLD=NEW, such as \"joints are dry=no joint leaks\".")
    return normal(old), normal(new)


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--kind", "kinds", type=click.Choice(["response", "command", "reading"]),
              multiple=True, default=("response", "command"), show_default=True,
              help="What is tried.")
@click.option("--phrase", "only", multiple=True, help="Just this one; may be repeated.")
@click.option("--instead", multiple=True, metavar="OLD=NEW",
              help="Try just this wording in place of a phrase; may be repeated.")
@click.option("--snr", "snrs", type=float, multiple=True, default=(10.0,), show_default=True,
              help="Signal to noise, in decibels; may be repeated.")
@click.option("--live", is_flag=True,
              help="Through speech gate and endpointing too, in noise without a break.")
@click.option("--turns", is_flag=True,
              help="The noises take turns: each voice says a phrase once at each ratio.")
@click.option("--noise", "names", multiple=True, help="Just this recording; may be repeated.")
@click.option("--voice", "voices", multiple=True, help="Just this voice; may be repeated.")
@click.option("--all", "everything", is_flag=True, help="List the phrases that carry, too.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True,
              help="Processes; each hears its share.")
@click.option("--seed", type=int, default=1, show_default=True, help="Other noise and pace.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def phrases(
    folder: Path, kinds: tuple[str, ...], only: tuple[str, ...], instead: tuple[str, ...],
    snrs: tuple[float, ...], live: bool, turns: bool, names: tuple[str, ...],
    voices: tuple[str, ...], everything: bool, jobs: int, seed: int, out: Path | None,
) -> None:
    """Which phrases of the shipped checklists do not carry in the noises recorded in FOLDER.

    Each is said by every voice in every noise that trained nothing, and heard against all that may
    be said at its moment.  Exit status: 1 when one is taken less than nine times in ten.
    """
    check_place(out)
    recordings = tuple(path for path in sounds_in(folder)
                       if (path.stem in names if names else path.stem not in TRAINED))
    if not recordings:
        raise InputError(f"there is no such recording in {folder}; leave --noise away.")
    check_voices(voices)
    pairs = tuple(_pair(text) for text in instead)
    parts = [Part(Share(job, jobs), kinds, pairs, tuple(map(normal, only)), recordings, snrs, voices,
                  seed, live, turns) for job in range(jobs)]
    found = [one for _, some in in_processes(jobs, heard, parts) for one in some]
    show(found, everything)
    write_results(out, {"noises": [path.stem for path in recordings], "snrs": snrs, "live": live,
                        # `asdict` makes pairs of a Counter's entries.
                        "phrases": [asdict(one) | {"instead": dict(one.instead)} for one in found]})
    if any(not one.carries for one in found):
        raise SystemExit(1)
