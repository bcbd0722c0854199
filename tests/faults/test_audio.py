"""Sound that fails in mid-session: said once, gone on without, and taken up again."""

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from handsfree.audio import FRAME, Samples, silence
from handsfree.checklist.model import Checklist
from handsfree.engine.state import Mode, Skipped
from handsfree.errors import DeviceError, StorageError
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.failover import (
    DEAD_SILENCE,
    FailoverMicrophone,
    FailoverRecogniser,
    FailoverSounds,
    FailoverSpeaker,
)
from handsfree.session.fault_reports import LONGEST_PAUSE, FaultReports
from handsfree.session.wording import Wording
from handsfree.sound.noise import NoiseStream
from handsfree.speaking import pyttsx3_voice
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.earcons import earcon
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.testing import ManualClock, MemoryLog
from tests.faults.parts import QuickSounds, Stage


@pytest.fixture
def stage(small: Checklist, english: Language) -> Stage:
    return Stage(small, english, MemoryLog(), Script(at={"chock": ("say again",) * 6}), pause=1.5)


def steady_microphone(stage: Stage) -> FailoverMicrophone:
    return FailoverMicrophone(stage.room.open, stage.troubles, sleep=stage.clock.sleep)


def told(stage: Stage, part: str) -> list[str]:
    """What was said about a part, in order."""
    return [key for key in stage.keys_of() if key in (f"lost.{part}", f"back.{part}")]


def fails(thing: Any, gone: bool) -> Callable[[], None]:
    return lambda: setattr(thing, "gone", gone)


def test_a_caution_is_spoken_although_its_prompt_was_made_ready_before(stage: Stage) -> None:
    stage.play()
    offers = [prompt.text for _, prompt in stage.prompts if prompt.about == "pull away"
              and prompt.key == "offer"]
    assert offers == ["Nobody between truck and trailer. Pull the truck away."]


def test_a_microphone_is_pulled_out_and_plugged_in_again(stage: Stage) -> None:
    stage.microphone = steady_microphone(stage)
    stage.happenings = {2.0: fails(stage.room, True), 8.0: fails(stage.room, False)}
    conversation = stage.play()
    assert told(stage, "microphone") == ["lost.microphone", "back.microphone"]
    assert conversation.state.mode is Mode.CLOSED  # by key, all the while
    assert stage.room.opened >= 3
    troubles = [(line.part, line.over) for line in stage.log.lines
                if line.what == "trouble"]
    assert troubles == [("microphone", False), ("microphone", True)]


def test_a_microphone_that_never_was_there(stage: Stage) -> None:
    stage.room.gone = True
    stage.microphone = steady_microphone(stage)
    assert not stage.microphone.there
    assert stage.play().state.mode is Mode.CLOSED
    assert told(stage, "microphone") == ["lost.microphone"]
    lost = next(prompt for _, prompt in stage.prompts if prompt.key == "lost.microphone")
    assert "Use the keys" in lost.text
    assert stage.room.opened < 12  # tried again, less and less often


def test_a_microphone_on_a_loose_contact_does_not_fill_the_air_with_news(stage: Stage) -> None:
    stage.microphone = steady_microphone(stage)
    stage.happenings = {2.0 + n / 10: fails(stage.room, n % 2 == 0) for n in range(100)}
    assert stage.play().state.mode is Mode.CLOSED
    keys = told(stage, "microphone")
    assert all(a != b for a, b in zip(keys, keys[1:], strict=False)) and len(keys) < 20


def test_a_muted_microphone_is_named_and_opened_again(stage: Stage) -> None:
    """Within twenty seconds; what opens it anew is the silence, not the end of it."""
    stage.room.sound = lambda t: (silence(0.02) if 5 < t < 5 + DEAD_SILENCE + 20
                                  else np.ones(FRAME, dtype=np.int16))
    stage.mute_until = DEAD_SILENCE + 40
    stage.microphone = steady_microphone(stage)
    stage.play()
    assert told(stage, "microphone") == ["lost.microphone", "back.microphone"]
    lost = next(t for t, prompt in stage.prompts if prompt.key == "lost.microphone")
    assert DEAD_SILENCE + 5 <= lost < 5 + 20
    assert stage.room.opened >= 3
    assert "muted" in next(p.text for _, p in stage.prompts if p.key == "lost.microphone")


def test_a_muted_microphone_that_is_then_pulled_out_is_back_when_it_is(stage: Stage) -> None:
    """The second trouble is no news, but it is another one: opening it again is all it takes."""
    stage.room.sound = lambda t: (silence(0.02) if 5 < t < 5 + DEAD_SILENCE + 20
                                  else np.ones(FRAME, dtype=np.int16))
    stage.happenings = {DEAD_SILENCE + 12.0: fails(stage.room, True),
                        DEAD_SILENCE + 30.0: fails(stage.room, False)}
    stage.mute_until = DEAD_SILENCE + 300
    stage.microphone = steady_microphone(stage)
    stage.play()
    assert told(stage, "microphone") == ["lost.microphone", "back.microphone"]
    assert stage.room.opened < 10, "given back and opened again for ever"


def test_ten_minutes_of_an_operator_who_says_nothing(stage: Stage) -> None:
    stage.mute_until = 600
    assert stage.play().state.mode is Mode.CLOSED
    while_silent = [prompt.key for t, prompt in stage.prompts if t < 600]
    assert while_silent == ["opening", "offer"]
    assert len([line for line in stage.log.lines if line.t < 600]) < 10


def test_lost_sound_is_a_line_of_the_journal_now_and_then(stage: Stage) -> None:
    stage.microphone = steady_microphone(stage)
    stage.mute_until = 60

    def overflow(t: float) -> Samples:
        stage.room.overflowed = True
        return np.ones(FRAME, dtype=np.int16)

    stage.room.sound = overflow
    stage.play()
    lines = [line.t for line in stage.log.lines if line.what == "overflow"]
    assert 5 <= len([t for t in lines if t < 60]) <= 7
    assert "overflow" not in stage.keys_of() and told(stage, "microphone") == []


def test_a_loudspeaker_goes_and_comes_back_and_the_step_is_said_again(stage: Stage) -> None:
    stage.out = FailoverSpeaker(stage.speaker.open, stage.troubles)
    stage.happenings = {2.0: fails(stage.speaker, True), 8.0: fails(stage.speaker, False)}
    assert stage.play().state.mode is Mode.CLOSED
    keys = stage.keys_of()
    assert told(stage, "speaker") == ["lost.speaker", "back.speaker"]
    assert keys[keys.index("back.speaker") + 1] in ("offer", "readback", "readback reading")


def test_a_speaker_that_stays_away_leaves_the_screen(stage: Stage) -> None:
    stage.happenings = {2.0: fails(stage.speaker, True)}
    stage.out = FailoverSpeaker(stage.speaker.open, stage.troubles)
    assert stage.play().state.mode is Mode.CLOSED
    assert stage.keys_of()[-1] == "closed" and told(stage, "speaker") == ["lost.speaker"]


def test_endless_noise_is_not_answered_for_ever(small: Checklist, english: Language) -> None:
    stage = Stage(small, english, MemoryLog(), pause=1.0, mute_until=120)
    noise = NoiseStream("engine", 1)
    stage.room.sound = lambda t: noise.read(FRAME)
    chunks = iter(range(10**9))
    stage.detector = lambda chunk: float(next(chunks) % 100 < 60)  # 2 s of "speech" in 3 s
    assert stage.play().state.mode is Mode.CLOSED
    answers = [prompt.text for t, prompt in stage.prompts if t < 120 and prompt.key == "unclear"]
    assert answers.count("I did not catch that.") == 1
    assert len([text for text in answers if text]) <= 10 < answers.count(""), "mostly tones"
    heard = [line for line in stage.log.lines if line.what == "heard" and line.t < 120]
    assert len(heard) > 20  # all of it is in the journal


def test_noise_without_a_pause_never_blocks_the_keys(small: Checklist, english: Language) -> None:
    stage = Stage(small, english, MemoryLog(), pause=1.0, mute_until=120)
    stage.detector = lambda chunk: 1.0
    assert stage.play().state.mode is Mode.CLOSED


# --- voice ----------------------------------------------------------------------------------------

WORKER = """
import struct, sys, time, json
from handsfree.speaking.pyttsx3_worker import write_frame, read_frame
write_frame(sys.stdout.buffer, {{"ready": True}})
while (frame := read_frame(sys.stdin.buffer)) is not None:
    {fault}
"""


@pytest.mark.parametrize("fault", ["time.sleep(60)", "sys.exit(3)"])
def test_a_real_voice_process_hangs_or_crashes(
    stage: Stage, tmp_path: Path, fault: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pyttsx3_voice, "GRACE", 0.2)
    worker = tmp_path / "worker.py"
    worker.write_text(WORKER.format(fault=fault), encoding="utf-8")
    with Pyttsx3Voice(timeout=0.2, command=(sys.executable, str(worker))) as voice, \
            PromptCache(voice) as cache:
        sounds = FailoverSounds(_Prepared(cache), stage.troubles, limit=0.5)
        stage.sounds = sounds
        assert stage.play().state.mode is Mode.CLOSED
        sounds.close()
    assert told(stage, "voice") == ["lost.voice"]
    assert len(stage.prompts) > 20
    tone = earcon("attention")
    calls = [sound for sound in stage.speaker.played if len(sound) >= len(tone)
             and np.array_equal(sound[-len(tone):], tone)]
    assert len(calls) > 15  # each prompt calls the operator to the screen


class _Prepared:
    """Prompts and tones as the commands put them together."""

    def __init__(self, cache: PromptCache) -> None:
        self.get, self.ahead, self.tone = cache.get, cache.ahead, earcon


class MoodyVoice(QuickSounds):
    """Raises whatever it is told to."""

    problem: Exception | None = None

    def get(self, text: str) -> Samples:
        if self.problem:
            raise self.problem
        return silence(0.1)


class AtOnce(Executor):
    """Done as soon as it is asked for, however busy the machine is."""

    def submit(self, fn, /, *args, **kwargs):  # type: ignore[no-untyped-def]
        job: Future = Future()
        try:
            job.set_result(fn(*args, **kwargs))
        except Exception as problem:  # noqa: BLE001  (as an executor does)
            job.set_exception(problem)
        return job


@pytest.mark.parametrize("problem", [DeviceError("the voice engine failed"), ValueError("a bug")])
def test_a_voice_that_comes_back_says_the_step_again(stage: Stage, problem: Exception) -> None:
    voice = MoodyVoice()
    stage.sounds = sounds = FailoverSounds(voice, stage.troubles)
    sounds._pool = AtOnce()
    stage.happenings = {2.0: lambda: setattr(voice, "problem", problem),
                        6.0: lambda: setattr(voice, "problem", None)}
    assert stage.play().state.mode is Mode.CLOSED
    keys = stage.keys_of()
    assert told(stage, "voice") == ["lost.voice", "back.voice"]
    assert keys[keys.index("back.voice") + 1] in ("offer", "readback", "readback reading")
    stage.sounds.close()


# --- recogniser -----------------------------------------------------------------------------------

class MoodyRecogniser:
    """Fails at the call that it is told to fail at."""

    name = "moody"

    def __init__(self, fails_at: str = "") -> None:
        self.fails_at = fails_at
        self.expected: list[Grammar] = []

    def _call(self, name: str) -> None:
        if self.fails_at == name:
            raise RuntimeError("inside the engine")

    def expect(self, grammar: Grammar) -> None:
        self._call("expect")
        self.expected.append(grammar)

    def begin(self) -> None:
        self._call("begin")

    def feed(self, samples: Samples) -> Hypothesis | None:
        self._call("feed")
        return None

    def finish(self) -> Heard:
        self._call("finish")
        return Rejection("unclear", 0.0, 0.0)

    def close(self) -> None:
        self._call("close")


@pytest.mark.parametrize("call", ["expect", "begin", "feed", "finish", "close"])
@pytest.mark.parametrize("reopens", [True, False])
def test_a_recogniser_that_raises(
    small: Checklist, english: Language, call: str, reopens: bool
) -> None:
    stage = Stage(small, english, MemoryLog(), pause=1.0, mute_until=30)
    chunks = iter(range(10**9))
    stage.detector = lambda chunk: float(next(chunks) % 200 < 30)  # somebody speaks every 6 s
    fresh = MoodyRecogniser()

    def reopened() -> MoodyRecogniser:
        if not reopens:
            raise RuntimeError("the model is gone")
        return fresh

    stage.recogniser = FailoverRecogniser(MoodyRecogniser(call), reopened, stage.troubles)
    assert stage.play().state.mode is Mode.CLOSED
    if call == "close":
        assert told(stage, "recogniser") == []
        return
    assert told(stage, "recogniser") == ["lost.recogniser"] + ["back.recogniser"] * reopens
    assert bool(fresh.expected) is reopens  # it knows at once what may be said


def test_a_note_that_cannot_be_stored_is_said_and_the_session_goes_on(
    small: Checklist, english: Language
) -> None:
    def keep(samples: Samples) -> str:
        raise StorageError("the disk is full.")

    stage = Stage(small, english, MemoryLog(), Script(at={"chock": ("make a note",)}), pause=4.0)
    loud = np.tile(np.array([900, -900], dtype=np.int16), FRAME // 2)
    stage.room.sound = lambda t: loud if t % 5 < 1 else loud // 100
    stage.detector = lambda chunk: float(np.abs(chunk).mean() > 100)
    assert stage.play(keep_note=keep).state.mode is Mode.CLOSED
    assert "note lost" in stage.keys_of() and "note kept" not in stage.keys_of()


def test_without_a_microphone_a_note_is_typed_and_a_key_goes_on_without_one(
    small: Checklist, english: Language
) -> None:
    stage = Stage(small, english, MemoryLog(), mute_until=6.0)
    pressed: list[str] = []
    poll = stage._keys
    stage._keys = lambda: [pressed.pop(0)] if pressed else poll()  # type: ignore[method-assign]
    stage.happenings = {
        1.0: lambda: pressed.append("make a note"),
        2.0: lambda: pressed.append("the left chock is cracked"),
        3.0: lambda: pressed.append("make a note"),
        4.0: lambda: pressed.append("say again")}
    assert stage.play().state.mode is Mode.CLOSED
    notes = [line for line in stage.log.lines if line.what == "note"]
    assert [(note.text, note.audio) for note in notes] == [("the left chock is cracked", "")]
    early = [prompt.key for t, prompt in stage.prompts if t < 5.0]
    assert early == ["opening", "offer", "note", "note kept", "note", "offer"]


def test_a_mistake_of_the_program_is_written_down_and_gone_on_from(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Wording.prompts

    def broken(self: Wording, effects: Any, *more: Any, **known: Any) -> Any:
        if any(isinstance(effect, Skipped) for effect in effects):
            raise KeyError("a mistake")
        return real(self, effects, *more, **known)

    monkeypatch.setattr(Wording, "prompts", broken)
    pressed = ["skip", "say again"]
    poll = stage._keys
    stage._keys = lambda: (  # type: ignore[method-assign]
        [pressed.pop(0)] if pressed and stage.clock() > 8 - 2 * len(pressed) else poll())
    conversation = stage.play()
    assert len(stage.mistakes) == 1 and "KeyError: 'a mistake'" in stage.mistakes[0]
    assert conversation.state.mode is Mode.CLOSED and "not here" in stage.keys_of()


# --- troubles -------------------------------------------------------------------------------------

def test_attempts_come_less_and_less_often_but_never_end() -> None:
    clock = ManualClock()
    troubles = FaultReports(clock)
    tried: list[float] = []

    def attempt() -> None:
        tried.append(clock())
        if len(tried) < 12:
            raise DeviceError("not yet")

    troubles.report("speaker", "unplugged", attempt)
    troubles.report("speaker", "unplugged", attempt)
    while "speaker" in troubles:
        clock.sleep(0.02)
        troubles.mend()
    pauses = np.diff(tried)
    assert all(b >= a - 0.05 for a, b in zip(pauses, pauses[1:], strict=False))
    assert pauses.max() < LONGEST_PAUSE + 0.1
    assert [(n.part, n.over) for n in troubles.news()] == [("speaker", False), ("speaker", True)]
    assert troubles.news() == []


# --- the command ----------------------------------------------------------------------------------

@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[..., tuple[str, int]]]:
    """Runs a command in a terminal of its own; keys are pressed as the screen shows words."""
    pty = pytest.importorskip("pty")
    import os
    import select

    def run(arguments: list[str], keys: dict[str, str]) -> tuple[str, int]:
        pid, terminal = pty.fork()
        if not pid:
            os.environ["HANDSFREE_DATA"] = str(tmp_path / "data")
            os.execv(sys.executable, [sys.executable, "-m", "handsfree", *arguments])
        seen, at, left = b"", 0, list(keys.items())
        until = time.monotonic() + 60
        while time.monotonic() < until:
            if select.select([terminal], [], [], 0.2)[0]:
                try:
                    piece = os.read(terminal, 4096)
                except OSError:
                    break
                seen += piece
            while left and left[0][0].encode() in seen[at:]:
                wanted, press = left.pop(0)
                at = seen.index(wanted.encode(), at) + len(wanted)
                os.write(terminal, press.encode())
        os.close(terminal)
        _, status = os.waitpid(pid, 0)
        return seen.decode("utf-8", "replace"), os.waitstatus_to_exitcode(status)

    yield run


def test_without_a_sound_card_there_are_screen_and_keys(
    terminal: Callable[..., tuple[str, int]],
) -> None:
    if subprocess.run([sys.executable, "-c", "from handsfree.devices.sound_card import *\n"
                       "SoundCardMicrophone().close()"], capture_output=True).returncode == 0:
        pytest.skip("this machine has a microphone")
    screen, status = terminal(
        ["run", "road-stop", "--rig", "small-single", "--no-screen"],
        {"ready for the road": "y\n", "sway bar is on. Is all": "y\n", "on the tap. Is all": "y\n",
         "mat are stowed. Is all": "y\n", "is parked. Is that how": "n\n", "fresh tank. Is that how": "n\n",
         "Space is done": " ", "I need:": "f"})
    assert status == 0, screen
    assert screen.count("lost the loudspeaker") == screen.count("lost the microphone") == 1
    assert "Stopping for now" in screen


def test_a_microphone_that_the_system_has_moved_is_heard_again(stage: Stage) -> None:
    """The stream goes on and gives zeros, until it is opened anew."""
    stage.room.sound = lambda t: (silence(0.02) if t > 5 and stage.room.opened < 2
                                  else np.ones(FRAME, dtype=np.int16))
    stage.mute_until = 60
    stage.microphone = steady_microphone(stage)
    stage.play()
    assert told(stage, "microphone") == ["lost.microphone", "back.microphone"]
    back = next(t for t, prompt in stage.prompts if prompt.key == "back.microphone")
    assert back < 5 + DEAD_SILENCE + 5


def test_a_headset_that_gives_zeros_while_nobody_speaks_is_left_alone_more_and_more(
    stage: Stage,
) -> None:
    stage.room.sound = lambda t: (silence(0.02) if t % 25 > 1 else np.ones(FRAME, dtype=np.int16))
    stage.mute_until = 600
    stage.microphone = steady_microphone(stage)
    stage.play()
    assert len(told(stage, "microphone")) <= 2
