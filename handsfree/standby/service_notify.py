"""Tells a service manager that the program is ready and alive, where one asks for it.

Standard library only.  systemd names a datagram socket of the Unix family in NOTIFY_SOCKET; only
then, and only to it, a socket is opened: it leads to the service manager on this machine and to
nobody else, and nothing is read from it.  The messages are those of systemd's sd_notify(3), from
memory: READY=1, WATCHDOG=1, STATUS=…, STOPPING=1.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from typing import Any


class Notifier:
    """Silent where nobody asks."""

    def __init__(self, environ: Mapping[str, str] = os.environ) -> None:
        self._socket: Any = None
        self._address = _address(environ.get("NOTIFY_SOCKET", ""))
        self._every = _seconds(environ.get("WATCHDOG_USEC", "")) / 3
        """Seconds between two signs of life; the manager waits for three times as long."""
        self._ready = False
        self._there: bool | None = None
        self._fed = float("-inf")
        if self._address:
            import socket

            self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC)
            self._socket.setblocking(False)

    def turned(self, there: bool, now: float) -> None:
        """The loop has dealt with one frame.

        So the watchdog is fed while frames arrive and the loop turns.  `there`: whether they come
        from a microphone, or are silence because there is none and one is being looked for, which
        no restart would mend.  A microphone that is there and gives nothing turns no loop.

        Args:
            now: seconds of a clock that is never set.
        """
        if self._socket is None:
            return
        if not self._ready:
            self._ready = True
            self._tell("READY=1")
        if there is not self._there:
            self._there = there
            self._tell("STATUS=Standing by." if there else "STATUS=Waiting for a microphone.")
        if self._every and now - self._fed >= self._every:
            self._fed = now
            self._tell("WATCHDOG=1")

    def _tell(self, message: str) -> None:
        with suppress(OSError):  # a manager that does not listen is no reason to stop
            self._socket.sendto(message.encode(), self._address)

    def close(self) -> None:
        """It ends."""
        if self._socket is not None:
            self._tell("STOPPING=1")
            self._socket.close()
            self._socket = None


def _address(named: str) -> str:
    """Of a socket in the file system, or in Linux's abstract names; '' for none or another."""
    if named.startswith("@"):
        return "\0" + named[1:]
    return named if named.startswith("/") else ""


def _seconds(microseconds: str) -> float:
    return int(microseconds) / 1e6 if microseconds.isdecimal() else 0.0
