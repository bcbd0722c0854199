"""A request to end from outside, as a service manager sends it: the session says good-bye first.

Standard library only.
"""

from __future__ import annotations

import signal
import threading
from types import FrameType, TracebackType
from typing import Any, Self


class ShutdownRequest:
    """Keeps the first SIGTERM for the session to act on, while the context is open.

    The second, for whoever cannot wait, interrupts it as Ctrl-C does.
    """

    def __init__(self) -> None:
        self.asked = False
        self._before: Any = None

    def __enter__(self) -> Self:
        if threading.current_thread() is threading.main_thread():
            self._before = signal.signal(signal.SIGTERM, self._received)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._before is not None:
            signal.signal(signal.SIGTERM, self._before)

    def _received(self, number: int, frame: FrameType | None) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True
