"""One button on a pin of a small computer, through gpiozero (the extra "button").

May import gpiozero (late) and errors.  Presses arrive in gpiozero's thread and are counted there.
"""

from __future__ import annotations

import threading

from handsfree.errors import InputError

BOUNCE = 0.05
"""Seconds in which a contact that chatters counts as one press."""


class GpioButton:
    """A button between the pin and ground.

    pin: as gpiozero names it, such as "GPIO17", "BOARD11" or "17".
    Raises InputError where the extra is missing, there are no such pins, or the pin is none.
    """

    def __init__(self, pin: str) -> None:
        try:
            from gpiozero import Button, GPIOZeroError
        except ImportError:
            raise InputError("--pin needs the extra 'button': pip install 'handsfree[button]'."
                             ) from None
        self._count = 0
        self._lock = threading.Lock()
        try:
            self._button = Button(int(pin) if pin.isdecimal() else pin, bounce_time=BOUNCE)
        except (GPIOZeroError, OSError, RuntimeError, ValueError) as problem:
            raise InputError(f"--pin {pin}: that pin cannot be used ({problem}).") from None
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
