"""A button and a light on pins of a small computer, through gpiozero (the extra "button").

May import gpiozero (late) and errors.  Presses arrive in gpiozero's thread and are counted there.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from handsfree.errors import InputError

BOUNCE = 0.05
"""Seconds in which a contact that chatters counts as one press."""


BLINKS = {"asleep": (0.05, 2.95), "deaf": (0.2, 0.2)}
"""State -> seconds on and off of the light; awake it is steady."""


@contextmanager
def _on_a_pin(option: str, pin: str) -> Iterator[tuple[Any, int | str]]:
    """gpiozero, and the pin as it takes it; its errors as one sentence.

    Raises:
        InputError: the extra is missing, there are no such pins, or the pin is none.
    """
    try:
        import gpiozero
    except ImportError:
        raise InputError(f"{option} needs the extra 'button': pip install 'handsfree[button]'."
                         ) from None
    try:
        yield gpiozero, int(pin) if pin.isdecimal() else pin
    except (gpiozero.GPIOZeroError, OSError, RuntimeError, ValueError) as problem:
        raise InputError(f"{option} {pin}: that pin cannot be used ({problem}).") from None


class GpioLight:
    """A light between the pin, with its resistor, and ground: it flashes now and then asleep, is on
    awake, and blinks fast while there is no microphone.

    pin: as gpiozero names it.  Raises InputError as `GpioButton`.
    """

    def __init__(self, pin: str) -> None:
        with _on_a_pin("--led", pin) as (gpiozero, number):
            self._led = gpiozero.LED(number)
        self._shown = ""

    def show(self, state: str) -> None:
        """One of "asleep", "awake" and "deaf"."""
        if state == self._shown:
            return
        self._shown = state
        if state in BLINKS:
            self._led.blink(*BLINKS[state])
        else:
            self._led.on()

    def close(self) -> None:
        """Dark, and the pin given back."""
        self._led.close()


class GpioButton:
    """A button between the pin and ground.

    pin: as gpiozero names it, such as "GPIO17", "BOARD11" or "17".
    Raises InputError where the extra is missing, there are no such pins, or the pin is none.
    """

    def __init__(self, pin: str) -> None:
        self._count = 0
        self._lock = threading.Lock()
        with _on_a_pin("--pin", pin) as (gpiozero, number):
            self._button = gpiozero.Button(number, bounce_time=BOUNCE)
        self._button.when_pressed = self._pressed

    def _pressed(self) -> None:
        with self._lock:
            self._count += 1

    def presses(self) -> int:
        """Presses since the last call."""
        with self._lock:
            count, self._count = self._count, 0
        return count

    def close(self) -> None:
        """Give the pin back."""
        self._button.close()
