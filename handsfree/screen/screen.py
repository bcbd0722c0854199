"""The screen itself: told of prompts, words and frames, it keeps a terminal up to date.

May import rich (Live), the session's loop and this room.  Drawn at most `FPS` times a second, and
only when something on it has changed, so that a slow line over SSH keeps up.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from types import TracebackType
from typing import Self

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from handsfree.audio import Samples, level_dbfs
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.errors import InputError
from handsfree.hearing.types import Heard, Hypothesis
from handsfree.language.labels import Labels
from handsfree.language.model import Language
from handsfree.screen.drawing import LEAST_HEIGHT, LEAST_WIDTH, Sound, Times, draw
from handsfree.screen.labels import load_screen_labels
from handsfree.screen.themes import DAY, NIGHT, Theme
from handsfree.screen.view import Viewer
from handsfree.session.loop import Session
from handsfree.session.ports import Watch
from handsfree.session.wording import Prompt

FPS = 5


def suits(console: Console | None = None) -> bool:
    """Whether this terminal can show the screen: large enough, not dumb, with our characters."""
    console = console or Console()
    encoding = (getattr(console.file, "encoding", "") or "").lower().replace("-", "")
    return (console.is_terminal and not console.is_dumb_terminal and encoding == "utf8"
            and console.width >= LEAST_WIDTH and console.height >= LEAST_HEIGHT
            and os.environ.get("TERM", "xterm") not in ("", "dumb") and sys.stdout is not None)


class Screen:
    """Shows one session while the context is open; its `watch` goes into that session."""

    def __init__(
        self, viewer: Viewer, labels: Labels, *, theme: Theme = DAY,
        console: Console | None = None, now: Callable[[], datetime] = datetime.now,
        typing: Callable[[], str | None] = lambda: None,
    ) -> None:
        """`now` is the time of day; `typing` gives what is being typed."""
        self._viewer, self._labels, self._theme = viewer, labels, theme
        self._console = console or Console(highlight=False)
        self._now = now
        self._typing = typing
        self._session: Session | None = None
        self._live = Live(console=self._console, screen=True, auto_refresh=False,
                          vertical_overflow="crop")
        self._spoken, self._heard, self._heard_as, self._confidence = "", "", "", 0.0
        self._level = -96.0
        self._due = 0.0
        self._shown: object = None

    @property
    def watch(self) -> Watch:
        """What the session's loop tells us."""
        return Watch(prompt=self.prompt, heard=self.heard, began=self.began, frame=self.frame)

    def began(self, session: Session) -> None:
        """The session that is shown begins."""
        self._session = session

    def __enter__(self) -> Self:
        self._live.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._live.stop()
        if self._spoken:
            self._console.print(self._spoken, markup=False)  # the last word outlives the screen

    def prompt(self, prompt: Prompt, t: float) -> None:
        """A prompt starts."""
        self._spoken = prompt.text or self._spoken
        self._due = 0.0

    def heard(self, heard: Heard, t: float) -> None:
        """Something was heard."""
        assert self._session is not None
        bands = self._session.conversation.bands
        self._confidence = heard.confidence
        if isinstance(heard, Hypothesis):
            self._heard = heard.text
            self._heard_as = ("certain" if heard.confidence >= bands.certain else
                              "unsure" if heard.confidence >= bands.unsure else "not taken")
        else:
            self._heard, self._heard_as = heard.best or f"({heard.reason})", "not taken"
        self._due = 0.0

    def frame(self, frame: Samples, t: float) -> None:
        """A frame has come in; draws when it is time."""
        self._level = max(self._level, level_dbfs(frame))
        now = time.monotonic()
        if now < self._due:
            return
        self._due = now + 1 / FPS
        rows = self.rows(t)
        self._level = -96.0
        shown = [row.plain for row in rows]
        if shown != self._shown:
            self._shown = shown
            self._live.update(Group(*rows), refresh=True)

    def rows(self, t: float) -> list[Text]:
        """The screen as it is now, `t` seconds into the session."""
        assert self._session is not None
        listener, state = self._session.listener, self._session.conversation.state
        sound = Sound(
            speaking=listener.deaf, hearing=listener.in_speech and not listener.deaf,
            level_dbfs=max(-96.0, round(self._level)), floor_dbfs=round(listener.floor_dbfs),
            spoken=self._spoken, heard=self._heard, heard_as=self._heard_as,
            confidence=self._confidence, typing=self._typing())
        minutes, seconds = divmod(int(t), 60)
        hours, minutes = divmod(minutes, 60)
        elapsed = f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"
        waiting = self._session.conversation.waiting(t)
        noting = self._session.conversation.noting
        return draw(self._viewer.view(state, self._spoken, waiting, noting), sound,
                    Times(f"{self._now():%H:%M}", elapsed), self._labels, self._theme,
                    self._console.width, self._console.height)


def require() -> None:
    """Raise InputError when this terminal cannot show the screen that is asked for."""
    if not suits():
        raise InputError(
            f"this terminal cannot show the screen: it needs {LEAST_WIDTH} x {LEAST_HEIGHT} cells"
            " and UTF-8; enlarge it, or use --no-screen.")


@contextmanager
def shown(
    wanted: bool | None, night: bool, checklist: Checklist, rig: Rig, language: Language,
    plain: Watch, typing: Callable[[], str | None] = lambda: None,
) -> Iterator[Watch]:
    """The watch of a screen, or `plain`.

    Args:
        wanted: True for the screen (see `require`), False for plain lines, None for what the
            terminal suits.
        night: light on dark, for eyes that are used to the dark.
        typing: gives what is being typed, None while nothing is.
    """
    if wanted is False or not suits():
        yield plain
        return
    labels = load_screen_labels(language.code)
    viewer = Viewer(checklist, rig.name, language, labels, rig.has)
    with Screen(viewer, labels, theme=NIGHT if night else DAY, typing=typing) as screen:
        yield screen.watch
