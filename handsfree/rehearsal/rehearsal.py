"""A whole session without a sound card: a synthesised operator, real recogniser, real voice.

May import the session room, hearing, sound and the voices' port.  Leaves a folder with the
conversation as stereo WAV, the transcript, the journal and the step times.
"""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, level_dbfs, to_int16
from handsfree.checklist.model import SIDES, Checklist
from handsfree.crew.crew import Crew, Signed
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.script import Script
from handsfree.rehearsal.simulated_channel import SimulatedChannel
from handsfree.session.conversation import Conversation, Log
from handsfree.session.loop import Session, run_together
from handsfree.session.manner import Manner
from handsfree.session.ports import Ports, Sounds, Watch
from handsfree.session.wording import Prompt
from handsfree.sound.files import read_sound, write_stereo
from handsfree.sound.mixing import speech_activity
from handsfree.sound.noise import KINDS, NoiseStream
from handsfree.speaking.voice import Voice
from handsfree.storage import journal, lines
from handsfree.storage.lines import Line

SPEECH_DBFS = -26.0
"""Active level at which the operator speaks (a usual level in speech testing, ITU-T P.830)."""


@dataclass(frozen=True)
class Turn:
    """One line of the transcript: who, what, when; `confidence` of what was heard."""

    t: float
    who: str
    text: str
    confidence: float | None = None

    def __str__(self) -> str:
        minutes, secs = divmod(self.t, 60)
        heard = "" if self.confidence is None else f"  [{self.confidence:.2f}]"
        return f"{int(minutes):02d}:{secs:04.1f}  {self.who:<8}  {self.text}{heard}"


@dataclass(frozen=True)
class Rehearsed:
    """What came of it."""

    conversation: Conversation
    turns: tuple[Turn, ...]
    duration: float
    baffled: bool


def noise_source(kind: str, snr_db: float, seed: int = 1) -> Callable[[int], Samples]:
    """Endless noise of a kind or from a file, `snr_db` below the operator's active level."""
    if kind in KINDS:
        stream = NoiseStream(kind, seed)
        level = level_dbfs(NoiseStream(kind, seed).read(20 * SAMPLE_RATE))
        pull = stream.read
    else:
        sound = read_sound(Path(kind))
        level = level_dbfs(sound)
        place = 0

        def pull(count: int) -> Samples:
            nonlocal place
            piece = np.take(sound, np.arange(place, place + count), mode="wrap")
            place = (place + count) % len(sound)
            return piece

    gain = 10 ** ((SPEECH_DBFS - snr_db - level) / 20)

    def source(count: int) -> Samples:
        return to_int16(pull(count).astype(np.float64) * gain)

    return source


def at_level(speech: Samples, dbfs: float = SPEECH_DBFS) -> Samples:
    """Speech brought to an active level."""
    level, _ = speech_activity(speech)
    if not np.isfinite(level):
        return speech
    return to_int16(speech.astype(np.float64) * 10 ** ((dbfs - level) / 20))


def rehearse(
    script: Script,
    checklist: Checklist,
    language: Language,
    *,
    listener: Listener,
    sounds: Sounds,
    operator_voice: Voice,
    log: Log,
    begin: Callable[[Conversation, float], list[Prompt]],
    say: Callable[[str], str] = str,
    noise: Callable[[int], Samples] | None = None,
    real_time: bool = False,
    show: Callable[[Turn], None] = lambda turn: None,
    watch: Watch | None = None,
    on_manner: Callable[[Manner], None] = lambda manner: None,
    longest: float = 3600.0,
    talking: Callable[..., Conversation] = Conversation,
) -> tuple[Rehearsed, SimulatedChannel]:
    """Play a script through the session's own loop.

    `talking` makes the conversation, `begin` starts (or resumes) it; `say` turns the operator's
    words into text that the voice reads rightly ("psi" into letters); `watch` and `on_manner` are
    told as in a live session; `longest` ends a rehearsal in which the two do not come together, in
    seconds of audio time without what the operator is away.
    """
    air, operator = _on_stage(script, checklist, language, operator_voice, say, noise, real_time)
    conversation = talking(checklist, language, log, elapsed=air.now, on_manner=on_manner,
                           now=partial(_moment, script, air))
    turns: list[Turn] = []

    def add(turn: Turn) -> None:
        turns.append(turn)
        show(turn)

    session = _session(air, operator, conversation, log, listener, sounds, watch or Watch(), add,
                       longest)
    with suppress(_Enough):
        session.run(begin(conversation, 0.0))
    return Rehearsed(conversation, tuple(turns), air.now() - air.away, operator.baffled), air


def _on_stage(
    script: Script, checklist: Checklist, language: Language, voice: Voice,
    say: Callable[[str], str], noise: Callable[[int], Samples] | None, real_time: bool,
) -> tuple[SimulatedChannel, Operator]:
    operator = Operator(script, checklist, language)
    return SimulatedChannel(operator, lambda words: at_level(voice.render(say(words))), work=script.work,
               noise=noise, real_time=real_time), operator


def _moment(script: Script, air: SimulatedChannel) -> datetime | None:
    return script.moment(air.now())


def _session(
    air: SimulatedChannel, operator: Operator, conversation: Conversation, log: Log, listener: Listener,
    sounds: Sounds, watch: Watch, add: Callable[[Turn], None], longest: float, who: str = "",
) -> Session:
    """The session of one operator in their air; `who` is put before the names of the two."""
    air.said = lambda words, t: add(Turn(t, f"{who}operator", words))

    def prompted(prompt: Prompt, t: float) -> None:
        add(Turn(t, f"{who}program", prompt.text or f"({prompt.tone})"))
        air.hear(prompt)
        watch.prompt(prompt, t)

    def heard(what: Heard, t: float) -> None:
        text = what.text if isinstance(what, Hypothesis) else f"({what.reason})"
        add(Turn(t, f"{who}heard", text, what.confidence))
        watch.heard(what, t)

    return Session(conversation, Ports(
        log, listener, _Patient(air, operator, longest), air, sounds, air.now,
        Watch(prompted, heard, watch.began, watch.frame)))


@dataclass(frozen=True)
class Stage:
    """What one of two operators brings to a rehearsal; `script` says what they answer."""

    script: Script
    listener: Listener
    voice: Voice
    noise: Callable[[int], Samples] | None = None


def rehearse_together(
    stages: Mapping[str, Stage],
    checklist: Checklist,
    language: Language,
    *,
    sounds: Sounds,
    log: journal.Journal,
    begin: Callable[[Conversation, float], list[Prompt]],
    say: Callable[[str], str] = str,
    real_time: bool = False,
    show: Callable[[Turn], None] = lambda turn: None,
    longest: float = 3600.0,
) -> dict[str, tuple[Rehearsed, SimulatedChannel]]:
    """Two operators, each with a microphone and an earphone of their own; see `rehearse`."""
    airs = {side: _on_stage(stage.script, checklist, language, stage.voice, say, stage.noise,
                            real_time and side == SIDES[0]) for side, stage in stages.items()}
    crew = Crew(checklist, language, log, {
        side: {"elapsed": air.now, "now": partial(_moment, stages[side].script, air)}
        for side, (air, _) in airs.items()})
    turns: list[Turn] = []

    def add(turn: Turn) -> None:
        turns.append(turn)
        show(turn)

    sessions = {
        side: _session(air, operator, crew.partners[side], Signed(log, side),
                       stages[side].listener, sounds, Watch(), add, longest, f"{side} ")
        for side, (air, operator) in airs.items()}
    with suppress(_Enough):
        run_together([sessions[side] for side in SIDES],
                     [begin(crew.lead, 0.0), *([] for _ in SIDES[1:])])
    return {
        side: (Rehearsed(crew.partners[side],
                         tuple(turn for turn in turns if turn.who.startswith(side)),
                         air.now() - air.away, operator.baffled), air)
        for side, (air, operator) in airs.items()}


class _Enough(Exception):
    """The operator gives up."""


class _Patient:
    """The microphone of a rehearsal, for as long as the operator has patience."""

    def __init__(self, air: SimulatedChannel, operator: Operator, longest: float) -> None:
        self._air, self._operator, self._longest = air, operator, longest

    def read(self) -> Samples:
        if self._operator.baffled or self._air.now() - self._air.away > self._longest:
            raise _Enough
        return self._air.read()


def write_folder(
    folder: Path, rehearsed: Rehearsed, air: SimulatedChannel, journal_path: Path | None
) -> list[Path]:
    """Write WAV and transcript, where there is a journal that and the times; returns the files."""
    folder.mkdir(parents=True, exist_ok=True)
    left, right = air.recording()
    files = [folder / name for name in
             ("conversation.wav", "transcript.txt", "journal.jsonl", "times.csv")]
    write_stereo(files[0], left, right)
    files[1].write_text("".join(f"{turn}\n" for turn in rehearsed.turns), encoding="utf-8")
    if journal_path is None:
        return files[:2]
    if journal_path.resolve() != files[2].resolve():
        shutil.copyfile(journal_path, files[2])
    with open(files[3], "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["step", "offered_s", "ended_s", "seconds", "outcome"])
        writer.writerows(step_times(journal.read(journal_path).lines))
    return files


def step_times(told: Iterable[Line]) -> list[tuple[str, float, float, float, str]]:
    """(step, first offered, last word on it, difference, outcome) in order of offering."""
    offered: dict[str, float] = {}
    ended: dict[str, tuple[float, str]] = {}
    for line in told:
        if isinstance(line, lines.Offered):
            offered.setdefault(line.step, line.t)
        elif isinstance(line, lines.Reported):
            ended[line.step] = line.t, line.of
        elif isinstance(line, (lines.Skipped, lines.Failed)):
            ended[line.step] = line.t, line.what
    return [(step, began, *_span(began, ended.get(step, (began, "open"))))
            for step, began in offered.items()]


def _span(began: float, end: tuple[float, str]) -> tuple[float, float, str]:
    return end[0], round(end[0] - began, 2), end[1]

