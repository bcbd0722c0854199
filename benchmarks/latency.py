"""`python -m benchmarks latency`: from the end of the operator's speech to the first sample of the reply.

The whole loop: synthesised operator, listener, endpointer, recogniser, conversation, journal on
disk, voice and prompt cache, loudspeaker port.  May import everything of the program; click, and
pocketsphinx late.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Future
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import click
import numpy as np

from benchmarks.results_file import check_place, write_results
from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.cli.engines import NAMES
from handsfree.engine.state import Mode, State
from handsfree.hearing.early_finalisation import Patience, wait_for_silence
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser, normal
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.rehearsal import at_level, noise_source
from handsfree.rehearsal.script import Script
from handsfree.rehearsal.simulated_channel import SimulatedChannel
from handsfree.session.conversation import Conversation
from handsfree.session.loop import Session
from handsfree.session.opening import start_new
from handsfree.session.ports import Ports, Watch
from handsfree.sound.noise import KINDS
from handsfree.speaking import earcons
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.text_normalisation import TextNormaliser
from handsfree.speaking.voice import VoiceOptions
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig

GOAL_MEDIAN, GOAL_95 = 0.3, 0.5
"""Seconds.  People leave about 0.2 s between turns (Stivers et al., PNAS 106, 2009)."""

VOICES = ("m3", "f2", "m7", "f4")

ASIDES = ("repeat", "detail", "why", "status", "remaining")
"""Commands that the operator slips in, one a step, so that others than "done" are timed."""

LONGEST = 1800.0
"""Seconds of audio after which a session is given up."""


@dataclass(frozen=True)
class Reply:
    """One utterance and the reply to it; all times in seconds.

    kind: command, answer, hold response, confirmation or reading.  waited: audio time from the end
    of the speech to the end of the frame with which it was decided.  worked, used: wall and
    processor time from that frame to the reply's first sample, recognition, journal and prompt
    included.  plainly: audio time until PocketSphinx's own endpointer has closed, if it has.
    """

    kind: str
    said: str
    heard: str
    waited: float
    worked: float
    used: float
    plainly: float | None = None

    @property
    def seconds(self) -> float:
        """From the end of the speech to the first sample of the reply."""
        return self.waited + self.worked


def speech_end(sound: Samples) -> float:
    """Seconds to the last sample within 32 dB of the loudest."""
    loud = np.abs(sound.astype(np.int32))
    return float(np.flatnonzero(loud >= loud.max(initial=1) / 40)[-1] + 1) / SAMPLE_RATE


class _Sounds:
    """The loop's `Sounds`; tells what is still being made ready."""

    def __init__(self, cache: PromptCache, reading: TextNormaliser) -> None:
        self._cache, self._reading = cache, reading
        self.coming: Future[int] | None = None

    def get(self, text: str) -> Samples:
        return self._cache.get(self._reading.say(text))

    def ahead(self, texts: Iterable[str]) -> None:
        self.coming = self._cache.ahead([self._reading.say(text) for text in texts])

    def tone(self, kind: str) -> Samples:
        return earcons.earcon(kind)


class _Timed(SimulatedChannel):
    """The air of a rehearsal with a stop watch."""

    def __init__(self, operator: Operator, speak: Callable[[str], Samples], sounds: _Sounds,
                 noise: Callable[[int], Samples] | None) -> None:
        super().__init__(operator, self._mouthed, work=0.4, noise=noise, said=self._begin)
        self._voice, self._sounds = speak, sounds
        self.state: Callable[[], State] = lambda: State(frozenset(), ())
        self.kind: Callable[[str, State], str] = lambda words, state: ""
        self.ends: list[float] = []
        """When each utterance ended."""
        self.replies: list[tuple[int, Reply]] = []
        """With the number of the utterance."""
        self._words = self._kind = ""
        self._wall = self._processor = 0.0
        self._answering: str | None = None

    def read(self) -> Samples:
        frame = super().read()
        self._wall, self._processor = time.perf_counter(), time.process_time()
        return frame

    def play(self, samples: Samples) -> None:
        if self._answering is not None and len(samples):
            self.replies.append((len(self.ends) - 1, Reply(
                self._kind, self._words, self._answering, self.now() - self.ends[-1],
                time.perf_counter() - self._wall, time.process_time() - self._processor)))
            self._answering = None
        super().play(samples)

    def heard(self, what: Heard, t: float) -> None:
        if self.ends:
            self._answering = what.text if isinstance(what, Hypothesis) else ""

    def _begin(self, words: str, t: float) -> None:
        # What is made ready during a prompt has the seconds that the prompt takes; here they pass
        # in no time, so it is waited for.
        if self._sounds.coming is not None:
            self._sounds.coming.result()
        self._kind, self._words = self.kind(words, self.state()), words
        self._answering = None

    def _mouthed(self, words: str) -> Samples:
        sound = self._voice(words)
        self.ends.append(self.now() + speech_end(sound))
        return sound


class _Whole(Listener):
    """A listener that waits for the whole silence, whatever was said."""

    def expect(self, grammar: Grammar, finalisation_delay: Patience | None = None) -> None:
        super().expect(grammar, wait_for_silence)


class _Enough(Exception):
    """The operator gives up."""


def timed(
    name: str, recogniser: Recogniser, data: Path, *, variant: str = "m3", early: bool = True,
    noise: str = "", snr: float = 15.0, plain: bool = False,
) -> list[Reply]:
    """One session over checklist `name`, with every reply timed.

    Args:
        data: a folder for the record.
        early: False waits for the whole silence each time.
        noise, snr: as in a rehearsal; noise "" for none.
        plain: also run PocketSphinx's endpointer over the operator's sound.
    """
    rig, language = load_rig(find_rig("survey-trailer")), load_language("en")
    checklist = load_checklist(find_checklist(name), rig=rig, library=checklists_folder())
    reading = load_normaliser(language.code)
    asides = {step: (language.commands[ASIDES[at % len(ASIDES)]][0],)
              for at, step in enumerate(checklist.order) if at % 3 == 0}
    operator = Operator(Script(at=asides), checklist, language)
    started = start_new(checklist, rig, data / checklist.id, {"rehearsal": True})
    with (Pyttsx3Voice(VoiceOptions(language=language.voice)) as voice, PromptCache(voice) as cache,
          OperatorVoice(language.voice, variant) as human):
        sounds = _Sounds(cache, reading)
        air = _Timed(operator, lambda words: at_level(human.render(reading.say(words))), sounds,
                     noise_source(noise, snr) if noise else None)
        conversation = Conversation(checklist, language, started.log, elapsed=air.now)
        air.state = lambda: conversation.state
        air.kind = lambda words, state: kind(words, state, checklist, language)
        listener = Listener(recogniser) if early else _Whole(recogniser)

        def patient(frame: Samples, t: float) -> None:
            if operator.baffled or t > LONGEST:
                raise _Enough

        session = Session(conversation, Ports(
            started.log, listener, air, air, sounds, air.now,
            Watch(prompt=lambda prompt, t: air.hear(prompt), heard=air.heard, frame=patient)))
        try:
            session.run(started.begin(conversation, 0.0, started.log))
        except _Enough:
            pass
        started.log.close()
    closed = endings(air.recording()[0], air.ends) if plain else [None] * len(air.ends)
    return [replace(reply, plainly=closed[at]) for at, reply in air.replies]


def kind(words: str, state: State, checklist: Checklist, language: Language) -> str:
    """What sort of utterance these words are in this state; see `Reply`."""
    said = {name for name, phrases in language.commands.items() if words in phrases}
    if state.mode is Mode.CONFIRM and said & {"confirm", "deny"}:
        return "confirmation"
    step = checklist.steps.get(state.at)
    if said & {"yes", "no"}:
        return "answer"
    if said or step is None:
        return "command"
    return "reading" if step.reading else "hold response"


def endings(sound: Samples, ends: list[float]) -> list[float | None]:
    """Seconds from each end of speech until PocketSphinx's own endpointer, as it comes, has closed;
    None where it does not close before the next utterance ends."""
    from pocketsphinx import Endpointer

    ear = Endpointer(sample_rate=SAMPLE_RATE)
    step, closed, was = ear.frame_bytes // 2, [], False
    for at in range(0, len(sound) - step + 1, step):
        ear.process(sound[at:at + step].tobytes())
        if was and not ear.in_speech:
            closed.append((at + step) / SAMPLE_RATE)
        was = ear.in_speech
    found: list[float | None] = []
    for end, following in zip(ends, [*ends[1:], float("inf")], strict=True):
        after = [t - end for t in closed if end <= t < following]
        found.append(min(after) if after else None)
    return found


def summary(replies: list[Reply]) -> dict[str, Mapping[str, float | int]]:
    """By kind and over all: how many, median and 95th percentile, and what they consist of."""
    rows: dict[str, Mapping[str, float | int]] = {}
    for name in ("command", "answer", "hold response", "reading", "confirmation", "all"):
        some = [reply for reply in replies if name in (reply.kind, "all")]
        if some:
            total = [reply.seconds for reply in some]
            rows[name] = {
                "replies": len(some),
                "as said": sum(normal(r.heard) == normal(r.said) for r in some),
                "median": round(float(np.median(total)), 4),
                "95": round(float(np.percentile(total, 95)), 4),
                "waited": round(float(np.median([r.waited for r in some])), 4),
                "worked": round(float(np.median([r.worked for r in some])), 4),
                "worked 95": round(float(np.percentile([r.worked for r in some], 95)), 4),
                "processor": round(float(np.median([r.used for r in some])), 4),
            }
    return rows


@click.command()
@click.option("--checklist", "names", multiple=True, default=("arrive",),
              show_default=True, metavar="NAME", help="What is walked through.")
@click.option("--voices", type=click.IntRange(1, len(VOICES)), default=2, show_default=True,
              help="How many operators.")
@click.option("--noise", type=click.Choice(KINDS), default="wind", show_default=True,
              help="Beside quiet.")
@click.option("--snr", type=click.FloatRange(-20, 60), default=15.0, show_default=True,
              metavar="DB", help="Speech over this noise in decibels.")
@click.option("--engine", type=click.Choice(NAMES),
              default="auto", show_default=True, help="Recogniser.")
@click.option("--json", "out", type=click.Path(path_type=Path), default=None, metavar="FILE",
              help="Write every reply there.")
def latency(names: tuple[str, ...], voices: int, noise: str, snr: float, engine: str,
            out: Path | None) -> None:
    """Time each reply from the end of the operator's speech to its first sample.

    Whole sessions over real sound: audio time that is waited, plus wall time that this machine
    works; a sound card adds its own delay.  Beside it the same with a fixed silence after each
    utterance, and PocketSphinx's own endpointer over the same sound, which only tells the end.
    """
    check_place(out)
    pronunciations = load_language("en").pronunciations
    recogniser = open_recogniser(engine, "en", None, pronunciations)
    written = []
    click.echo(f"{'':24}{'replies':>8}{'as said':>8}{'median':>8}{'95 %':>7}   of which waited +"
               " worked (95 %), processor; ms")
    for what, kind_of_noise in (("quiet", ""), (f"{noise} at {snr:.0f} dB", noise)):
        found: dict[bool, list[Reply]] = {True: [], False: []}
        for early, replies in found.items():
            for name in names:
                for variant in VOICES[:voices]:
                    with tempfile.TemporaryDirectory(prefix="handsfree-latency-") as folder:
                        replies += timed(name, recogniser, Path(folder), variant=variant,
                                         early=early, noise=kind_of_noise, snr=snr, plain=early)
        _print(what, found)
        written.append({
            "surroundings": what, "engine": recogniser.name, "early": summary(found[True]),
            "fixed": summary(found[False]), "replies": [asdict(r) for r in found[True]]})
    recogniser.close()
    write_results(out, written)


def _print(what: str, found: dict[bool, list[Reply]]) -> None:
    click.echo(what)
    rows = summary(found[True])
    for name, row in rows.items():
        _row(name, row)
    if "all" not in rows:
        return
    fixed = summary(found[False])
    _row("all, fixed silence", fixed["all"])
    told = [reply.plainly for reply in found[True] if reply.plainly is not None]
    if told:
        click.echo(f"  {'PocketSphinx endpointer':<22}{len(told):>8}{'':8}"
                   f"{1000 * np.median(told):8.0f}{1000 * np.percentile(told, 95):7.0f}"
                   f"   found the end of {len(told)} of {len(found[True])}")
    met = rows["all"]["median"] < GOAL_MEDIAN and rows["all"]["95"] < GOAL_95
    click.echo(f"  goal: median under {1000 * GOAL_MEDIAN:.0f}, 95 % under {1000 * GOAL_95:.0f}:"
               f" {'met' if met else 'missed'}")


def _row(name: str, row: Mapping[str, float | int]) -> None:
    ms = {key: 1000 * value for key, value in row.items()}
    click.echo(f"  {name:<22}{row['replies']:>8}{row['as said']:>8}{ms['median']:8.0f}"
               f"{ms['95']:7.0f}   {ms['waited']:.0f} + {ms['worked']:.0f}"
               f" ({ms['worked 95']:.0f}), {ms['processor']:.0f}")
