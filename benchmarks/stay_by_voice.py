"""`python -m benchmarks stay-by-voice`: a whole stay over a virtual sound card, no key pressed.

From power-on to the review: the interview of a newcomer, arrive, the evening round with the process
killed in the middle of it, a night at the end of which it is killed again, depart.  The operator hears
what the loudspeaker plays (that it is silent again, from the sound itself; the words, from what is
printed) and speaks into the microphone, in words drawn from those that taught the program nothing
(`tests/*/wordings-held-out.txt`).  Like a person, it says it in other words when it was not understood,
and in the program's own at last.  May import everything of the program.
"""

from __future__ import annotations

import fcntl
import os
import queue
import random
import re
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import termios
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass, field
from pathlib import Path

import click
import numpy as np

from benchmarks.results_file import check_place, write_results
from benchmarks.virtual_card import LOUDSPEAKER, MICROPHONE, Pulse, missing, virtual_card
from handsfree.audio import SAMPLE_RATE, Samples, silence, to_int16
from handsfree.engine.state import TakeBack
from handsfree.errors import DeviceError, InputError
from handsfree.language.loader import load_language
from handsfree.language.readings import WrongUnit, parse_reading, say_reading
from handsfree.rehearsal.rehearsal import at_level
from handsfree.sound.noise import NoiseStream
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.storage import journal, lines
from handsfree.storage.paths import find_rig
from handsfree.storage.record import session_paths

TESTS = Path(__file__).parents[1] / "tests"
QUIET = 0.9
"""Seconds of silence from the loudspeaker after which the operator speaks."""
TYPED_QUIET = 0.4
"""The same where nothing sounds; what takes longer to come is waited for."""
PATIENCE = 12.0
"""Seconds that an operator waits for an answer."""
IN_OWN_WORDS = 1
"""So often it is said in words of one's own before it is said in the program's."""
BEFORE_ASKING = 3
"""After so many answers in vain it asks to hear the question again."""
MOST_TURNS = 500

YES = ("safety chains", "breakaway", "stabilisers cranked", "power", "water", "jack pads",
       "new place to remember", "Finish anyway", "Go on with it", "right for yours")
"""Questions with these words are answered with yes, others with no."""

AGREED = "that is right"
NEWCOMER = (
    ("What kind of rig is it?", "small trailer"), ("usually has: ", AGREED), ("Some have more", "none of them"),
    ("How many amps is the power cord?", "thirty amps"), ("Let me read it back", AGREED),
    ("What cold tire pressure", "forty psi"), ("highest cold tire pressure", "fifty psi"),
    ("calls it GVWR", "seven thousand pounds"), ("calls it GAWR", "three thousand five hundred pounds"),
    ("one tire may carry", "I do not know"), ("the hitch may carry", "one thousand pounds"),
    ("highest water pressure", "sixty psi"), ("lowest wheel nut torque", "ninety foot pounds"),
    ("highest wheel nut torque", "one hundred twenty foot pounds"))
"""What is asked of a newcomer's trailer, and what is answered; the figures are of no one rig."""

NOTICES = ("I can hardly hear", "It is very loud", "It is quieter", "Your voice is", "I may not be",
           "I have lost", "The microphone", "Saved", "Good-bye", "I can hear you again", "Ready.")
"""So begin prompts with nothing to answer."""

FAILED = ("I did not catch that.", "I am not sure I got that.", "I did not understand that.",
          "Here is what I can do:", "It is hard to hear you.", "Say the digits", "Please answer yes or no.",
          "I need", "Say done, or:", "First say:", "Say: that is right. Or",
          "That does not apply here", "I have no list",
          "Okay, I will stand by", "I cannot do that here")
"""So begin prompts that tell that something was not understood, or not taken."""


def asks(prompt: str) -> bool:
    """Whether there may be something to answer."""
    return bool(prompt) and not prompt.startswith(("(", *NOTICES)) and not prompt.endswith("Noted.") and (
        ": complete." not in prompt)


def not_taken(prompt: str) -> bool:
    """Whether it tells that the last words were not understood, or not taken."""
    return not prompt or prompt.startswith(FAILED)


class Stuck(Exception):
    """The stay did not go on."""


def held_out() -> dict[str, list[tuple[str, str]]]:
    """Moment -> (meaning, words) of the sentences that have taught nothing."""
    found: dict[str, list[tuple[str, str]]] = {}
    for room in ("session", "standby"):
        moment = meaning = ""
        for line in (TESTS / room / "wordings-held-out.txt").read_text("utf-8").splitlines():
            if head := re.fullmatch(r"\[(.+?)\](?: (.+))?", line):
                moment, meaning = head[1], head[2] or head[1]
                moment = "standby" if room == "standby" else moment
            elif said := re.fullmatch(r"[tpcon]: (.+?)(?: => (.+))?", line):
                found.setdefault(moment, []).append((said[2] or meaning, said[1]))
    return found


@dataclass(frozen=True)
class Wanted:
    """What the operator wants to say: by the file's moment and meaning, and in the program's words."""

    moment: str
    meaning: str
    taught: str


@dataclass
class Counted:
    """Utterances and what came of them."""

    said: Counter[str] = field(default_factory=Counter)
    """By 'own words' or 'taught words', and what came of it."""
    lost: list[tuple[str, str]] = field(default_factory=list)
    """(moment, words) of those in own words that were not understood."""
    denied: list[tuple[str, str]] = field(default_factory=list)
    """(words, what was read back), where it was something else."""
    seconds: dict[str, float] = field(default_factory=dict)
    """How long each part of the stay took."""


# --- what is heard of the program ---------------------------------------------------------------

class Loudspeaker:
    """Tells since when nothing comes out of it."""

    def __init__(self, card: Pulse) -> None:
        self.last = time.monotonic()
        self._process = subprocess.Popen(
            ["pacat", "--record", "--device=program.monitor", "--latency-msec=100", "--raw",
             "--format=s16le", "--rate=16000", "--channels=1"],
            stdout=subprocess.PIPE, env={**os.environ, **card.environment})
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process.stdout
        while piece := self._process.stdout.read(640):
            if np.abs(np.frombuffer(piece, dtype=np.int16).astype(int)).max() > 60:
                self.last = time.monotonic()

    def close(self) -> None:
        """End the recording."""
        self._process.terminate()
        self._process.wait(10)


class Box:
    """The program as its service starts it, without keys; on the card, or (None) through a pipe, by ear or
    in text."""

    def __init__(self, card: Pulse | None, data: Path, by_ear: bool = False) -> None:
        self._card, self._data, self._by_ear = card, data, by_ear
        self._new: queue.Queue[str] = queue.Queue()
        self.lines: list[str] = []
        self.process: subprocess.Popen[str] | None = None

    def power_on(self) -> float:
        """Start it; the seconds until it told the service manager that it is ready."""
        environment = {**os.environ, "HANDSFREE_DATA": str(self._data), "PYTHONUNBUFFERED": "1"}
        if self._card is None:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "handsfree", "stand-by", *(["--hear", "-"] if self._by_ear else ["--text"])],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment)
            threading.Thread(target=self._read, args=(self.process,), daemon=True).start()
            return 0.0
        environment |= self._card.environment
        unit = subprocess.run(
            [sys.executable, "-m", "handsfree", "service", "install", "--print", "--mic", MICROPHONE,
             "--speaker", LOUDSPEAKER], env=environment, check=True, capture_output=True, text=True)
        command = next(line.removeprefix("ExecStart=") for line in unit.stdout.splitlines()
                       if line.startswith("ExecStart="))
        with tempfile.TemporaryDirectory(prefix="n-", dir="/tmp") as folder, socket.socket(
                socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
            manager.bind(f"{folder}/n")
            manager.settimeout(120)
            began = time.monotonic()
            self.process = subprocess.Popen(
                shlex.split(command), stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT, text=True,
                env={**environment, "NOTIFY_SOCKET": f"{folder}/n"})
            threading.Thread(target=self._read, args=(self.process,), daemon=True).start()
            with suppress(TimeoutError):
                while b"READY=1" not in manager.recv(500):
                    pass
            return time.monotonic() - began

    def _read(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout
        for line in process.stdout:
            self.lines.append(line.rstrip("\n"))
            self._new.put(line.rstrip("\n"))

    def new(self) -> list[str]:
        """Lines since the last call."""
        found = []
        with suppress(queue.Empty):
            while True:
                found.append(self._new.get_nowait())
        return found

    def type(self, words: str) -> None:
        """Type it, in text."""
        assert self.process and self.process.stdin
        with suppress(BrokenPipeError):
            self.process.stdin.write(f"{words}\n")
            self.process.stdin.flush()

    def feed(self, sound: Samples) -> None:
        """Let it hear this, and wait until it has; from then on it waits for more."""
        assert self.process and self.process.stdin
        with suppress(BrokenPipeError):
            rest = sound.tobytes()
            while rest:
                rest = rest[os.write(self.process.stdin.fileno(), rest):]
            while self.process.poll() is None and int.from_bytes(
                    fcntl.ioctl(self.process.stdin, termios.FIONREAD, bytes(4)), sys.byteorder):
                time.sleep(0.005)

    def end(self, how: signal.Signals) -> int:
        """Send a signal; the exit status."""
        if self.process is None:
            return 0
        if self.process.stdin:
            with suppress(BrokenPipeError):
                self.process.stdin.close()
        self.process.send_signal(how)
        return self.process.wait(60)


@dataclass
class Air:
    """Between the two: sound, or typed lines."""

    say: Callable[[str], None]
    quiet: float
    """Seconds of silence after which the operator speaks."""
    sounded: Callable[[], float] = lambda: 0.0
    """When the program was last heard, by the clock."""
    clock: Callable[[], float] = time.monotonic
    let_pass: Callable[[float], None] = time.sleep
    """So many seconds."""


# --- the operator -------------------------------------------------------------------------------

class Operator:
    """Listens, decides and speaks."""

    def __init__(self, air: Air, box: Box, seed: int, show: bool, stands: str) -> None:
        self._air, self._box = air, box
        self._chance = random.Random(seed)
        self._sayings, self._language = held_out(), load_language("en")
        self._show, self._stands = show, stands
        self.counted = Counted()
        self._said, self._kind, self._wanted = "", "", Wanted("", "", "")
        self._answer, self._answer_said = self._wanted, ""
        """What was wanted last, but for a yes or no to what was read back of it; and as it was said."""
        self._vain = 0
        self._number = ""
        self.prompts: list[str] = []

    def listen(self, limit: float = PATIENCE) -> list[str]:
        """The prompts until it is silent, none if nothing came."""
        prompts: list[str] = []
        since = self._air.clock()
        last = since
        while True:
            for line in self._box.new():
                last = self._air.clock()
                if self._show:
                    click.echo(f"    {line}")
                if line.startswith(">"):
                    prompts.append(line[1:].strip())
            now = self._air.clock()
            quiet = now - max(self._air.sounded(), last) > self._air.quiet
            if prompts and quiet or now - max(since, self._air.sounded()) > limit:
                self.prompts = prompts
                return prompts
            if self._box.process and self._box.process.poll() is not None:
                raise Stuck("the program ended")
            self._air.let_pass(0.05)

    def speak(self, words: str, kind: str) -> None:
        """Say it."""
        self._said, self._kind = words, kind
        if self._show:
            click.echo(f"      ({kind}) {words}")
        self._air.say(words)

    def want(self, wanted: Wanted) -> list[str]:
        """Say what is wanted, in words of one's own at first, and listen."""
        if wanted != self._wanted:
            self._wanted, self._vain = wanted, 0
        words = self._own_words(wanted) if self._vain < IN_OWN_WORDS else ""
        self.speak(words or wanted.taught, "own words" if words else "taught words")
        if wanted.meaning not in ("confirm", "deny", "repeat"):
            self._answer, self._answer_said = wanted, self._said
        prompts = self.listen()
        if prompts and not any(map(asks, prompts)):  # something more will come
            prompts = [*prompts, *self.listen(20.0)]
            self.prompts = prompts
        failed = not prompts or any(map(not_taken, prompts))
        self._vain = self._vain + 1 if failed else 0
        self._count("not understood" if failed and prompts else "unheard" if failed else (
            "asked about" if prompts[-1].startswith("Did you say:") else "done"), words)
        return prompts

    def _count(self, outcome: str, own: str) -> None:
        self.counted.said[f"{self._kind}: {outcome}"] += 1
        if own and outcome in ("not understood", "unheard"):
            self.counted.lost.append((self._wanted.moment, own))

    def _own_words(self, wanted: Wanted) -> str:
        """One of the sentences held out for it, '' where there is none."""
        fit = [words for meaning, words in self._sayings.get(wanted.moment, ())
               if meaning == wanted.meaning or wanted.meaning == "=" and meaning.startswith("= ")]
        words = self._chance.choice(fit) if fit else ""
        if wanted.meaning == "=" and words:
            self._number = next(meaning for meaning, one in self._sayings[wanted.moment]
                                if one == words).removeprefix("= ")
        return words

    # --- deciding -------------------------------------------------------------------------------

    def walk(self, until: str) -> list[str]:
        """Answer whatever is asked until something is said that fits the expression."""
        prompts = self.prompts
        for _ in range(MOST_TURNS):
            if any(re.search(until, one) for one in prompts):
                return prompts
            prompts = self.want(self.decide(prompts))
        raise Stuck(f"'{until}' did not come")

    def order(self, meaning: str, taught: str, until: str) -> list[str]:
        """Call it, and ask for something, until it is taken."""
        def taken(prompts: Sequence[str]) -> bool:
            return any(re.search(until, one) for one in prompts)

        for _ in range(10):
            if taken(prompts := self.call(until)):
                return prompts
            for _ in range(4):
                prompts = self.want(Wanted("standby", meaning, taught))
                while prompts and prompts[-1].startswith("Did you say:") and not taken(prompts):
                    prompts = self.want(self.decide(prompts))
                if not prompts:  # it may be busy
                    prompts = self.listen(20.0)
                if taken(prompts):
                    return prompts
                if not prompts or prompts[-1].startswith("I will leave it"):
                    break
        raise Stuck(f"'{taught}' was not taken")

    def call(self, until: str = "^$") -> list[str]:
        """Until it says that it listens, or something that is waited for."""
        for _ in range(8):
            self.speak("hello trailer", "call")
            prompts = self.listen(8.0)
            found = "Yes?" in prompts
            self.counted.said[f"call: {'done' if found else 'unheard'}"] += 1
            if found or any(re.search(until, one) for one in prompts):
                return prompts
        raise Stuck("it does not wake")

    def decide(self, prompts: Sequence[str]) -> Wanted:
        """What to say to these prompts; the same as before where nothing was asked."""
        asked = [prompt for prompt in prompts if asks(prompt)]
        told = [prompt for prompt in asked if not not_taken(prompt)] or asked
        if self._vain > BEFORE_ASKING and not_taken(told[-1] if told else ""):
            return Wanted("step", "repeat", "say again")
        return self._to(told[-1]) if told else self._wanted

    def _to(self, prompt: str) -> Wanted:
        own = self._answer
        if own.moment == "standby" and (told := re.fullmatch(r"Did you say: (.+)\?", prompt)):
            return self._yes("confirm plain", self._meant(told[1]), told[1])
        if found := re.search(r"(?:Answer|answer|I need): (?!that is right)([^.]+)\.$", prompt):
            return Wanted(f"hold {found[1]}", "respond", found[1])
        prompt = re.sub(r" Yes or no\?$", "", prompt) if re.search(
            r"^Did you say:|Is that right\? Say", prompt) else prompt.removeprefix(
            "First say: that is right. Or: no change it. ")
        if found := re.fullmatch(r"Did you say: (.+)\?", prompt):
            right = self._meant(found[1])
            return self._yes("asked done", right, found[1])
        if "Answer: that is right." in prompt:
            return self._yes("confirm grave", True, prompt)
        if found := re.fullmatch(r"(.+)\. Is that right\?", prompt):
            if self._number and own.meaning == "=":
                reading = parse_reading(self._answer_said, self._language, own.moment.split()[-1])
                right = not isinstance(reading, WrongUnit) and any(
                    say_reading(one, self._language).lower() == found[1].lower() for one in reading)
                right = right or self._number in found[1]
                return self._yes("confirm plain", bool(right) or not reading, found[1])
            return self._yes("confirm grave", self._meant(found[1]), found[1])
        if not_taken(prompt) and not prompt.startswith(("I need the reading", "I need it in")):
            if "that is right" in prompt:
                return self._yes("confirm grave", True, "")
            return self._wanted
        if prompt.endswith("Yes or no?"):
            yes = any(words in prompt for words in YES)
            return Wanted("question", "yes" if yes else "no", "yes" if yes else "no")
        if found := re.search(r"(?:in|In) ([a-z ]+?)\.$", prompt):
            unit = found[1].replace(" ", "_")
            if unit in self._language.units or found[1] == "psi":
                return self._reading(prompt, unit)
        if answer := next((said for began, said in NEWCOMER if began in prompt), ""):
            return self._yes("confirm grave", True, "") if answer == AGREED else Wanted("", "", answer)
        if "Say: ready for the road" in prompt:
            return Wanted("", "", self._stands)
        if prompt.startswith("Where are you?"):
            return Wanted("", "", "new place")
        if found := re.match(r"(.+?) in [a-z ]+ minutes\. Nothing to do", prompt):
            return Wanted("", "", f"{found[1]} now")
        if prompt.startswith("Holding at"):
            return Wanted("paused", "resume", "carry on")
        return Wanted("step", "done", "done")

    def _reading(self, prompt: str, unit: str) -> Wanted:
        usual = {"psi": "forty five psi", "volts": "one hundred eighteen volts", "degrees": "zero degrees",
                 "inches": "seven inches", "feet": "thirty feet", "amps": "thirty amps"}
        return Wanted(f"reading {unit}", "=", usual.get(unit, f"ten {unit.replace('_', ' ')}"))

    def _meant(self, told: str) -> bool:
        """Whether what is read back is what was wanted."""
        told, own = told.lower(), self._answer
        return own.taught.lower() in told or told in own.taught.lower()

    def _yes(self, moment: str, right: bool, told: str) -> Wanted:
        if not right:
            self.counted.denied.append((self._said, told))
        return Wanted(moment, "confirm" if right else "deny",
                      "that is right" if right else "no change it")


# --- the stay -----------------------------------------------------------------------------------

@contextmanager
def murmuring(card: Pulse) -> Iterator[None]:
    """A murmur for as long as it lasts: a virtual card is digitally silent between two sounds."""
    over = threading.Event()

    def again() -> None:
        while not over.is_set():
            with card.murmur("operator"):
                over.wait(230)

    thread = threading.Thread(target=again, daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join(15)


@dataclass
class Stay:
    """What came of it."""

    counted: Counted
    ready: list[float] = field(default_factory=list)
    """Seconds from power-on until the service manager was told that it is ready."""
    minutes: float = 0.0
    problems: list[str] = field(default_factory=list)
    sessions: list[str] = field(default_factory=list)
    transcript: list[str] = field(default_factory=list)


Part = Callable[[Operator, Box, Stay], None]


def stay(card: Pulse | None, data: Path, seed: int, parts: Mapping[str, Part], *, by_ear: bool = False,
         show: bool = False, stands: str = "ready for the road") -> Stay:
    """Play its parts, from power-on, in a data folder, over a card or (None) through a pipe, by ear or
    typed; `stands` is how the trailer is set at first."""
    box = Box(card, data, by_ear)
    began = time.monotonic()
    with ExitStack() as stack:
        operator = Operator(_air(card, box, stack, by_ear), box, seed, show, stands)
        found = Stay(operator.counted)
        try:
            found.ready.append(box.power_on())
            operator.listen(120.0)
            for name, part in parts.items():
                at = time.monotonic()
                part(operator, box, found)
                operator.counted.seconds[name] = round(time.monotonic() - at, 1)
            operator.counted.seconds["ready"] = found.ready[0]
            if status := box.end(signal.SIGTERM):
                found.problems.append(f"asked to end, it ended with status {status}")
        except Stuck as problem:
            found.problems.append(str(problem))
        finally:
            if box.process and box.process.poll() is None:
                box.end(signal.SIGKILL)
    found.minutes, found.transcript = (time.monotonic() - began) / 60, box.lines
    found.problems += [line for line in box.lines if "Traceback" in line]
    _look_at_the_record(data, found)
    return found


def spelled(words: str) -> str:
    """As a person says it: espeak-ng takes psi for the Greek letter."""
    return re.sub(r"\bpsi\b", "P S I", words)


class Pipe:
    """Sound that a box is given as fast as it can hear it; the clock counts samples."""

    def __init__(self, box: Box, voice: OperatorVoice) -> None:
        self._box, self._voice, self._samples = box, voice, 0
        self._room = NoiseStream("pink", 1)

    def clock(self) -> float:
        """Seconds of sound so far."""
        return self._samples / SAMPLE_RATE

    def feed(self, sound: Samples) -> None:
        """In a room that is not digitally silent."""
        self._samples += len(sound)
        self._box.feed(to_int16(sound + self._room.read(len(sound)) * 0.003))

    def say(self, words: str) -> None:
        """What the operator says, with the breath before and after it."""
        spoken = at_level(self._voice.render(spelled(words)))
        self.feed(np.concatenate((silence(0.6), spoken, silence(0.8))))

    def let_pass(self, seconds: float) -> None:
        """Nobody speaks."""
        self.feed(silence(max(0.2, seconds)))


def _air(card: Pulse | None, box: Box, stack: ExitStack, by_ear: bool) -> Air:
    """Sound on a card or through a pipe, or typed lines."""
    if card is None and not by_ear:
        return Air(box.type, TYPED_QUIET)
    voice = stack.enter_context(OperatorVoice("en-us", "m3", 150))
    if card is None:
        pipe = Pipe(box, voice)
        return Air(pipe.say, QUIET, clock=pipe.clock, let_pass=pipe.let_pass)
    loudspeaker = stack.enter_context(closing(Loudspeaker(card)))
    stack.enter_context(murmuring(card))

    def say(words: str) -> None:
        card.speak(np.concatenate((at_level(voice.render(spelled(words))), silence(0.4))))

    return Air(say, QUIET, lambda: loudspeaker.last)


def _look_at_the_record(data: Path, found: Stay) -> None:
    """What the journals say that nobody has said."""
    for folder in (data / "rigs").glob("*/"):
        for path in session_paths(folder):
            read = journal.read(path).lines
            kinds = Counter(line.what for line in read)
            closed = "closed" if kinds["closed"] else "open"
            found.sessions.append(f"{path.stem}: {closed}, {len(read)} lines")
            for line in read:
                if isinstance(line, lines.Skipped) or isinstance(line, lines.Event) and isinstance(
                        line.event, TakeBack):
                    found.problems.append(f"{path.stem}: {line}, which nobody said")


def _interview(operator: Operator, box: Box, found: Stay) -> None:
    operator.order("interview", "start the interview", r"^A few questions about your trailer|What is it most like")
    operator.walk(r"^Thank you\. I have all that")


BEGINS = r"^{}|^Your trailer\.|^Where are you|^Here again|new place"
"""A list begins: with its title, or with what has to be asked first."""

def a_list(name: str, title: str, killed_after: int = 0) -> Part:
    """A list from its start to its end; after so many answers the power goes, and it is gone on with."""
    def part(operator: Operator, box: Box, found: Stay) -> None:
        prompts = operator.order(f"start {name}", f"start {name}", BEGINS.format(title))
        if killed_after:
            for _ in range(killed_after):
                prompts = operator.want(operator.decide(prompts))
            box.end(signal.SIGKILL)
            found.ready.append(box.power_on())
            told = operator.listen(120.0)
            if not any("is not finished. Say: go on" in one for one in told):
                found.problems.append(f"it does not say what is unfinished: {told}")
            operator.order("go on", "go on", r"We were at|This checklist has")
        operator.walk(rf"^{title}[^:]*: complete|^{title}.* is finished")
    return part


def _night(operator: Operator, box: Box, found: Stay) -> None:
    """Good night; in the morning the box was without power."""
    operator.order("sleep", "good night", r"^Good night")
    box.end(signal.SIGKILL)
    found.ready.append(box.power_on())
    operator.listen(120.0)


def review(operator: Operator, box: Box, found: Stay) -> None:
    operator.order("compare", "how did today compare", r" took .+ today\.")


PARTS: dict[str, Part] = {"interview": _interview, "arrive": a_list("arrive", "Arrive"),
         "evening": a_list("evening", "Evening", killed_after=4), "night": _night,
         "depart": a_list("depart", "Pack up and depart"), "review": review}
"""In their order."""


@click.command("stay-by-voice")
@click.option("--seed", type=int, default=1, show_default=True, help="Other words.")
@click.option("--part", "parts", multiple=True, type=click.Choice([*PARTS]),
              help="Just this; may be repeated, in their order.")
@click.option("--rig", default=None, metavar="NAME", help="This rig, instead of an interview about one.")
@click.option("--typed", is_flag=True,
              help="Typed instead of spoken, which takes minutes: the conversation without the hearing.")
@click.option("--quick", is_flag=True,
              help="Spoken into a pipe, as fast as it is heard, instead of over a sound card; the program's"
                   " own voice is left out.")
@click.option("--show", is_flag=True, help="Show the conversation as it goes.")
@click.option("--json", "out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write everything here.")
def stay_by_voice(
    seed: int, parts: tuple[str, ...], rig: str | None, typed: bool, quick: bool, show: bool, out: Path | None
) -> None:
    """A whole stay over a virtual sound card, without a key, in words that were held out.

    It takes some forty minutes.  Status 1 where the stay did not come to its end.
    """
    check_place(out)
    if typed and quick:
        raise InputError("--typed and --quick exclude each other; give one of them.")
    if not (typed or quick) and (lacking := missing()):
        raise DeviceError(lacking)
    click.echo(f"Seed {seed}.")
    with tempfile.TemporaryDirectory(prefix="stay-") as folder, (
            nullcontext() if typed or quick else virtual_card()) as card:
        data = Path(folder)
        if rig:
            (data / "rigs").mkdir()
            shutil.copy(find_rig(rig), data / "rigs")
        played = {name: PARTS[name] for name in parts or PARTS if not (rig and name == "interview")}
        camp = not {"interview", "arrive"} & set(played)
        found = stay(card, data, seed, played, by_ear=not typed, show=show,
                     stands="all set up" if camp else "ready for the road")
    counted = found.counted
    click.echo(f"{found.minutes:.1f} minutes; ready after"
               f" {', '.join(f'{one:.1f}' for one in found.ready)} s.")
    for kind, count in sorted(counted.said.items()):
        click.echo(f"{kind:32}{count}")
    for part, seconds in counted.seconds.items():
        click.echo(f"{part:32}{seconds:.0f} s")
    for session in found.sessions:
        click.echo(session)
    for moment, words in counted.lost:
        click.echo(f"not understood at [{moment}]: {words}")
    for said, told in counted.denied:
        click.echo(f"'{said}' was read back as: {told}")
    for problem in found.problems:
        click.echo(f"problem: {problem}")
    write_results(out, {"seed": seed, "minutes": round(found.minutes, 1), "ready": found.ready,
                        "said": counted.said, "lost": counted.lost, "denied": counted.denied,
                        "seconds": counted.seconds, "sessions": found.sessions,
                        "problems": found.problems, "transcript": found.transcript})
    if found.problems:
        raise SystemExit(1)
