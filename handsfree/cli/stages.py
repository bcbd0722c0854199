"""The stages that `stand-by` can stand on: sound cards, typed lines, a sound file.

May import everything, as `wiring`; only the command modules import it.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from io import BytesIO
from pathlib import Path
from typing import TextIO

import numpy as np

from handsfree.audio import Samples, silence
from handsfree.cli import wiring
from handsfree.cli.stations import Station, waited_for
from handsfree.cli.walking import Stage
from handsfree.devices.keyboard import Keyboard
from handsfree.devices.shutdown import ShutdownRequest
from handsfree.devices.sound_card import SoundCardMicrophone, SoundCardSpeaker
from handsfree.devices.text_console import TextConsole
from handsfree.errors import InputError
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser, Rejection
from handsfree.language.model import Language
from handsfree.session.failover import (
    FailoverMicrophone,
    FailoverRecogniser,
    FailoverSounds,
    FailoverSpeaker,
)
from handsfree.session.fault_reports import FaultReports
from handsfree.standby.service_notify import Notifier


class NoVoice:
    """Sounds where nothing is spoken."""

    def use(self, rate: int) -> None:
        """Any rate will do."""

    def get(self, text: str) -> Samples:
        """No sound."""
        return silence(0.02)

    def ahead(self, texts: object) -> None:
        """Nothing has to be made ready."""

    def tone(self, kind: str) -> Samples:
        """No sound."""
        return silence(0.02)


class NoEar:
    """A `Recogniser` where nothing is heard."""

    name = "none"

    def expect(self, grammar: Grammar) -> None:
        """Whatever may be said."""

    def begin(self) -> None:
        """Nothing to forget."""

    def feed(self, samples: Samples) -> Hypothesis | None:
        """Nothing is heard."""
        return None

    def finish(self) -> Heard:
        """Nothing was heard."""
        return Rejection("noise", 0.0, 0.0)

    def close(self) -> None:
        """Nothing is held."""


def recogniser(
    engine: str, language: Language, model: Path | None, data: Path
) -> Callable[[], Recogniser]:
    """Opens the recogniser; see `open_recogniser`."""
    def opened() -> Recogniser:
        return open_recogniser(engine, language.code, model, language.pronunciations,
                               user_data=data)

    return opened


@contextmanager
def in_text(lines: TextIO) -> Iterator[Stage]:
    """Lines in, lines out."""
    with _without_sound(TextConsole(lines), NoEar) as stage:
        yield stage


@contextmanager
def from_file(path: Path, opened: Callable[[], Recogniser]) -> Iterator[Stage]:
    """A sound file is heard, or what comes through standard input (-) as 16-bit samples at 16 kHz; what
    is said is only shown.

    Raises:
        InputError: it cannot be read.
    """
    from handsfree.sound.files import read_sound

    if str(path) == "-":
        sound = _piped
    elif path.is_file():
        whole = BytesIO(read_sound(path).tobytes())
        sound = lambda count: np.frombuffer(whole.read(2 * count), np.int16)  # noqa: E731
    else:
        raise InputError(f"there is no sound file {path}; check the path.")
    with _without_sound(TextConsole(None, sound), opened) as stage:
        yield stage


def _piped(count: int) -> Samples:
    """So many samples from standard input, without taking more than these out of the pipe."""
    found = b""
    while len(found) < 2 * count and (piece := os.read(sys.stdin.fileno(), 2 * count - len(found))):
        found += piece
    return np.frombuffer(found[:len(found) // 2 * 2], np.int16)


@contextmanager
def _without_sound(port: TextConsole, opened: Callable[[], Recogniser]) -> Iterator[Stage]:
    troubles, voice = FaultReports(port.clock), NoVoice()
    with ShutdownRequest() as ended, closing(FailoverRecogniser(opened(), opened, troubles)) as ear:
        station = Station(ear, FailoverMicrophone(lambda: port, troubles),
                    FailoverSpeaker(lambda: port, troubles), troubles)
        yield Stage({"": station}, voice, voice, port.clock, port.poll,
                    lambda: ended.asked or port.ended)


@contextmanager
def on_cards(
    language: Language, data: Path, mic: str | None, speaker: str | None,
    buttons: frozenset[str], pin: str | None, led: str | None, opened: Callable[[], Recogniser],
) -> Iterator[Stage]:
    """Microphone and loudspeaker, which may come later, keys, a button and a light.

    Args:
        buttons: keys that are "done" besides the usual ones.
        pin: of a button, as gpiozero names it.
        led: of a light.

    Raises:
        InputError: the pin cannot be used.
    """
    began = time.monotonic()

    def clock() -> float:
        return time.monotonic() - began

    troubles = FaultReports(clock)
    with ExitStack() as stack:
        ended = stack.enter_context(ShutdownRequest())
        notifier = stack.enter_context(closing(Notifier()))
        pressed = stack.enter_context(_button(pin, language))
        show = stack.enter_context(_light(led))
        out = stack.enter_context(closing(FailoverSpeaker(
            lambda: SoundCardSpeaker(speaker), troubles)))
        ear = stack.enter_context(closing(FailoverMicrophone(
            waited_for(lambda: SoundCardMicrophone(mic), out), troubles)))
        engine = stack.enter_context(closing(FailoverRecogniser(opened(), opened, troubles)))
        sounds = stack.enter_context(wiring.sounds(language, data))
        steady = stack.enter_context(closing(FailoverSounds(sounds, troubles)))
        keyboard = stack.enter_context(Keyboard(wiring.key_words(language, buttons)))
        yield Stage(
            {"": Station(engine, ear, out, troubles, True)}, sounds, steady, clock,
            lambda: [*keyboard.poll(), *pressed()], lambda: ended.asked,
            typing=lambda: keyboard.typing,
            frame=lambda frame, t: notifier.turned(ear.there, clock()),
            light=lambda state: show(state if ear.there else "deaf"))


@contextmanager
def _button(pin: str | None, language: Language) -> Iterator[Callable[[], list[str]]]:
    """What a button on a pin says since the last call: "done", once a press."""
    if pin is None:
        yield list
        return
    from handsfree.devices.gpio import GpioButton

    with closing(GpioButton(pin)) as button:
        word = language.commands["done"][0]
        yield lambda: [word] * button.presses()


@contextmanager
def _light(pin: str | None) -> Iterator[Callable[[str], None]]:
    """Shows a state on a light; see `GpioLight`."""
    if pin is None:
        yield lambda state: None
        return
    from handsfree.devices.gpio import GpioLight

    with closing(GpioLight(pin)) as light:
        yield light.show
