"""`python -m benchmarks soak`: hours of audio time with a slow, chatty, sometimes mistaken operator."""

from __future__ import annotations

import itertools
import random
import tempfile
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import click
import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.errors import InputError
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Heard, Hypothesis, Recogniser
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.language.readings import Reading, say_reading
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.rehearsal import at_level, noise_source
from handsfree.rehearsal.script import Script
from handsfree.rehearsal.simulated_channel import SimulatedChannel
from handsfree.session.conversation import Conversation
from handsfree.session.loop import Session
from handsfree.session.opening import start_new
from handsfree.session.ports import Ports, Watch
from handsfree.session.wording import Prompt
from handsfree.speaking import earcons
from handsfree.speaking.cache import MEMORY, PromptCache
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.text_normalisation import TextNormaliser
from handsfree.speaking.voice import Voice, VoiceOptions
from handsfree.storage import journal
from handsfree.storage.lines import Begun, Closed
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.storage.record import lock, rig_folder

STAY = ("arrive", "evening", "storm", "dump-station", "depart", "road-stop")

CHATTER = ("where did i put those gloves", "this wind is something", "hello little dog",
           "i think it will rain before noon", "good morning how was your drive")
"""What the operator says to others; English, since a rehearsal's operator is."""

ASIDES = ("help", "status", "remaining", "time", "detail", "why", "repeat")
SLIPS = ("skip", "take_back", "pause", "problem")

SETTLED = 0.25
"""Share of the time that is left out of the slopes: caches fill at first."""


@dataclass
class Soaked:
    """What was measured; times in seconds."""

    audio: float = 0.0
    wall: float = 0.0
    sessions: int = 0
    closed: int = 0
    heard: int = 0
    unclear: int = 0
    keyed: int = 0
    """Answers by key, after words that were not understood several times."""
    differing: list[str] = field(default_factory=list)
    """Sessions whose replay comes to another state."""
    memory: list[tuple[float, int]] = field(default_factory=list)
    """(audio time, bytes of this process in memory, prompts that are kept ready not counted)."""
    ready: int = 0
    """Bytes of prompts kept ready: each sentence once, up to the cache's limit."""
    delays: list[tuple[float, float]] = field(default_factory=list)
    """(audio time, processor time from an utterance's last frame to its answer's first)."""

    def slope(self, pairs: list[tuple[float, int]] | list[tuple[float, float]]) -> float:
        """Change an hour, least squares, after the start has settled."""
        late = [(t, value) for t, value in pairs if t >= SETTLED * self.audio]
        if len(late) < 3:
            return 0.0
        t, value = np.array(late, dtype=np.float64).T
        return float(np.polyfit(t / 3600, value, 1)[0])


class WanderingOperator(Operator):
    """Talks to the dog, asks, skips, takes back and misreads, now and then."""

    def __init__(self, script: Script, checklist: Checklist, language: Language,
                 chance: random.Random) -> None:
        super().__init__(script, checklist, language)
        self._chance = chance

    def answer(self) -> str:
        """See `Operator.answer`; what was to be said is said after the aside."""
        words = super().answer()
        if not words or not self.works:
            return words
        roll = self._chance.random()
        if roll < 0.08:
            return self._chance.choice(CHATTER)
        if roll < 0.16:
            words = self._commands[self._chance.choice(ASIDES)][0]
        elif roll < 0.22:
            words = self._commands[self._chance.choice(SLIPS)][0]
        elif roll < 0.30 and (step := self._checklist.steps.get(self._at)) and step.reading:
            wrong = Fraction(round((step.reading.low or step.reading.high or 0) / 2))
            words = say_reading(Reading(wrong, step.reading.unit), self._language)
        self._meant = words  # `_last` stays what answers the step, should this be refused
        return words

    def keyed(self) -> list[str]:
        """The last words, by key, once they were said in vain too often."""
        if not self.baffled:
            return []
        self.baffled, self._repeats = False, 0
        return [self._last]


class _Outdoors(SimulatedChannel):
    """The air of a rehearsal, for hours: nothing is recorded, what happens is timed."""

    def __init__(self, operator: Operator, speak: Callable[[str], Samples], *,
                 noise: Callable[[int], Samples] | None, found: Soaked, before: float, until: float,
                 slow: Callable[[], float]) -> None:
        super().__init__(operator, speak, noise=noise)
        self._found, self._before, self._until, self._slow = found, before, until, slow
        self._frame_at = self._heard_at = 0.0

    def read(self) -> Samples:
        """The next frame."""
        total = self._before + self.now()
        if total > self._until:
            raise _Enough
        frame = super().read()
        self._left.clear()
        self._right.clear()
        if self._frames % 3000 == 0:
            self._found.memory.append((total, resident() - self._found.ready))
        self._frame_at = time.process_time()
        return frame

    def play(self, samples: Samples) -> None:
        """The program starts to speak."""
        if self._heard_at:
            self._found.delays.append(
                (self._before + self.now(), time.process_time() - self._heard_at))
            self._heard_at = 0.0
        super().play(samples)

    def heard(self, what: Heard, t: float) -> None:
        """An utterance ended with the last frame."""
        self._found.heard += 1
        self._found.unclear += not isinstance(what, Hypothesis)
        self._heard_at = self._frame_at

    def prompted(self, prompt: Prompt, t: float) -> None:
        """The operator hears a prompt."""
        self.hear(prompt)

    def _act(self) -> None:
        if self._due is None:
            self._work = self._slow()
        super()._act()


class _Enough(Exception):
    """The time is over."""


class _Counted:
    """The program's voice; each sentence is rendered once, and then kept ready."""

    def __init__(self, voice: Voice, found: Soaked) -> None:
        self.name, self._voice, self._found = voice.name, voice, found

    def render(self, text: str) -> Samples:
        sound = self._voice.render(text)
        self._found.ready = min(MEMORY, self._found.ready + sound.nbytes)
        return sound


class _Sounds:
    """The loop's `Sounds`, as the commands put them together."""

    def __init__(self, cache: PromptCache, reading: TextNormaliser) -> None:
        self.get = lambda text: cache.get(reading.say(text))
        self.ahead = lambda texts: cache.ahead([reading.say(text) for text in texts])
        self.tone = earcons.earcon


def resident() -> int:
    """Bytes of this process that are in memory now; 0 where the system does not tell."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        return 0
    return pages * 4096


def soaked(
    seconds: float, data: Path, *, slow: float = 45.0, noise: str = "wind", snr: float = 20.0,
    engine: str = "auto", seed: int = 1, names: tuple[str, ...] = STAY,
    told: Callable[[Soaked], None] = lambda found: None,
) -> Soaked:
    """Hold session after session for so many seconds of audio time, in one process.

    Args:
        data: a folder for the record.
        slow: mean seconds that the operator takes for a step; exponentially distributed.
        noise, snr: as in a rehearsal; noise "" for none.
        told: is shown the findings after each session.
    """
    found, chance, began = Soaked(), random.Random(seed), time.monotonic()
    rig, language = load_rig(find_rig("survey-trailer")), load_language("en")
    reading = load_normaliser(language.code)
    recogniser = open_recogniser(engine, language.code, None, language.pronunciations)
    mouths: OrderedDict[str, Samples] = OrderedDict()
    with (Pyttsx3Voice(VoiceOptions(language=language.voice)) as voice,
          PromptCache(_Counted(voice, found)) as cache, OperatorVoice(language.voice) as human):

        def speak(words: str) -> Samples:
            if words not in mouths:
                mouths[words] = at_level(human.render(reading.say(words)))
                if len(mouths) > 200:
                    mouths.popitem(last=False)
            return mouths[words]

        wind = _loop(noise_source(noise, snr)(60 * SAMPLE_RATE)) if noise else None
        for name in itertools.cycle(names):
            if found.audio >= seconds:
                break
            checklist = load_checklist(checklists_folder() / f"{name}.yaml", rig=rig,
                                       library=checklists_folder())
            script = Script(answers={step: chance.random() < 0.7 for step in checklist.steps})
            operator = WanderingOperator(script, checklist, language, chance)
            air = _Outdoors(operator, speak, noise=wind, found=found, before=found.audio,
                            until=seconds, slow=lambda: chance.expovariate(1 / slow))
            with lock(folder := rig_folder(data, rig.name)):
                started = start_new(checklist, rig, folder, {"rehearsal": True})
                _session(checklist, language, recogniser, started.log, started.begin, air,
                         operator, _Sounds(cache, reading), found)
            found.audio += max(air.now(), 1.0)
            found.wall = time.monotonic() - began
            told(found)
    recogniser.close()
    return found


def _session(checklist: Checklist, language: Language, recogniser: Recogniser,
             log: journal.Journal, begin: Callable[..., list[Prompt]], air: _Outdoors,
             operator: WanderingOperator, sounds: _Sounds, found: Soaked) -> None:
    def keys() -> list[str]:
        said = operator.keyed()
        found.keyed += len(said)
        return said

    conversation = Conversation(checklist, language, log, elapsed=air.now)
    session = Session(conversation, Ports(
        log, Listener(recogniser), air, air, sounds, air.now,
        Watch(prompt=air.prompted, heard=air.heard), keys))
    try:
        session.run(begin(conversation, 0.0, log))
    except _Enough:
        pass
    log.close()
    found.sessions += 1
    told = journal.read(log.path).lines
    found.closed += any(isinstance(line, Closed) for line in told)
    again = Conversation(checklist, language, log)
    assert isinstance(told[0], Begun)
    again.replay(told[0].record, told)
    if again.state != conversation.state:
        found.differing.append(f"{checklist.id} ({log.path.name})")


def _loop(sound: Samples) -> Callable[[int], Samples]:
    place = 0

    def pull(count: int) -> Samples:
        nonlocal place
        if place + count > len(sound):
            place = 0
        place += count
        return sound[place - count:place]

    return pull


@click.command()
@click.option("--hours", type=click.FloatRange(min=0.02), default=8.0, show_default=True,
              help="Audio time in all.")
@click.option("--slow", type=click.FloatRange(min=0.5), default=45.0, show_default=True,
              metavar="SECONDS", help="What a step takes the operator on average.")
@click.option("--noise", default="wind", show_default=True, help="wind, engine, rain … or none.")
@click.option("--engine", default="auto", show_default=True, help="Recogniser.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another operator.")
def soak(hours: float, slow: float, noise: str, engine: str, seed: int) -> None:
    """Hold sessions for HOURS of audio time in one process and watch what grows.

    Real voices, real recogniser, real record on disk; faster than time.  Prints memory and delay
    by hour with their slopes, and every session whose replay differs.  Exit status 1 when one
    does.
    """
    if not resident():
        raise InputError("this system does not tell a process's memory under /proc; use Linux.")
    with tempfile.TemporaryDirectory(prefix="handsfree-soak-") as folder:
        found = soaked(
            3600 * hours, Path(folder), slow=slow, noise="" if noise == "none" else noise,
            engine=engine, seed=seed, told=lambda now: click.echo(
                f"\r{now.audio / 3600:.2f} h, {now.sessions} sessions", nl=False, err=True))
    click.echo("", err=True)
    click.echo("hour   memory MiB   delay ms (half, 95 in 100)")
    for hour in range(int(np.ceil(found.audio / 3600))):
        memory = [value for t, value in found.memory if hour <= t / 3600 < hour + 1]
        delay = [1000 * value for t, value in found.delays if hour <= t / 3600 < hour + 1]
        if memory and delay:
            click.echo(f"{hour + 1:4d}   {np.median(memory) / 2**20:10.1f}"
                       f"   {np.median(delay):8.1f} {np.percentile(delay, 95):8.1f}")
    click.echo(f"besides {found.ready / 2**20:.1f} MiB of prompts kept ready, which have a limit")
    click.echo(f"{found.slope(found.memory) / 2**20:+.2f} MiB and"
               f" {1000 * found.slope(found.delays):+.2f} ms an hour after the first quarter")
    click.echo(f"{found.audio / 3600:.2f} hours of audio in {found.wall / 60:.1f} minutes;"
               f" {found.sessions} sessions, {found.closed} closed; {found.heard} utterances,"
               f" {found.unclear} unclear, {found.keyed} answered by key after all")
    click.echo(f"{len(found.differing)} sessions whose replay differs")
    for line in found.differing:
        click.echo(line)
    if found.differing:
        raise SystemExit(1)
