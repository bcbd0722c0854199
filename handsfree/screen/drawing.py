"""A view and what is heard, drawn as exactly so many rows of so many cells.

May import rich's Text (styles and the width of letters) and this room.  Nothing is printed here.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from handsfree.language.labels import Labels
from handsfree.screen.large import large
from handsfree.screen.themes import OTHER_BANNER, Theme
from handsfree.screen.view import FactLine, View

LEAST_WIDTH, LEAST_HEIGHT = 60, 20
"""A smaller terminal gets plain lines instead."""

_LOWEST = -70.0
"""Level, in dB re full scale, at which the meter is empty."""


@dataclass(frozen=True)
class Sound:
    """What goes in and out at the moment; `heard_as` is certain, unsure, not taken, or ''."""

    speaking: bool = False
    hearing: bool = False
    level_dbfs: float = -96.0
    floor_dbfs: float = -96.0
    spoken: str = ""
    heard: str = ""
    heard_as: str = ""
    confidence: float = 0.0
    typing: str | None = None
    """What is being typed; it is shown instead of what was heard."""


@dataclass(frozen=True)
class Times:
    """As they are shown: the time of day, and since the session began."""

    clock: str
    elapsed: str


def draw(
    view: View, sound: Sound, times: Times, labels: Labels, theme: Theme, width: int, height: int
) -> list[Text]:
    """The rows of the screen: `height` of them, each `width` cells wide."""
    page = _Page(labels, theme, width)
    above = [page.header(view, times), page.banner(view)]
    if view.caution:
        above.append(page.row(f" {labels('caution')}: {view.caution}", theme.caution))
    below = [*page.say(view), *page.facts(view, height),
             *page.sound(sound, lines=1 if height < 28 else 2)]
    room = height - len(above) - len(below)
    rows = [*above, *page.large(view, room), *below]
    return rows[:height]


class _Page:
    def __init__(self, labels: Labels, theme: Theme, width: int) -> None:
        self._labels, self._theme, self._width = labels, theme, width

    def row(self, words: str, style: str = "") -> Text:
        """One row in one style, cut or filled to the width."""
        return Text(set_cell_size(words, self._width), style or self._theme.page, no_wrap=True)

    def _two(self, left: str, right: str, style: str) -> Text:
        room = self._width - cell_len(right) - 3
        return self.row(f" {_cut(left, room)}{' ' * (room - cell_len(_cut(left, room)))}"
                        f" {right} ", style)

    def header(self, view: View, times: Times) -> Text:
        skipped = f" · {self._labels('skipped', count=str(view.skipped))}" if view.skipped else ""
        done = self._labels("done open", done=str(view.done), open=str(view.open))
        return self._two(f"{view.title} · {view.rig}",
                         f"{done}{skipped} · {times.elapsed} · {times.clock}", self._theme.header)

    def banner(self, view: View) -> Text:
        style = self._theme.banners.get(view.kind, OTHER_BANNER)
        return self._two(f"{view.banner}  {view.limits}".rstrip(), view.place.upper(), style)

    def large(self, view: View, room: int) -> list[Text]:
        """The text in large type, and below it the answer where there is room for both.

        Plainly where large type does not fit; in the middle of its room.
        """
        inner = self._width - 2
        rows: list[str] = list(large(view.text, inner, room - 1 if room > 5 else room))
        if not rows:
            rows = _wrapped(view.text, inner)[:room]
        answer = large(f'"{view.answer}"', inner, room - len(rows) - 2) if view.answer else ()
        shown = [(words, self._theme.strong) for words in rows]
        if answer:
            shown += [("", ""), *((words, self._theme.answer) for words in answer)]
        top = (room - len(shown)) // 2
        below = room - top - len(shown)
        return [self.row(f" {words}" if words else "", style)
                for words, style in [("", "")] * top + shown + [("", "")] * below]

    def say(self, view: View) -> list[Text]:
        """What can be said now: the one answer that counts, then the commands."""
        rows = []
        if view.answer:
            rows.append(self.row(f" {self._labels('answer')} {view.answer}", self._theme.answer))
        if view.waits:
            rows.append(self.row(f" {self._labels('waits')} {view.waits}", self._theme.heard))
        if not view.commands:
            return rows
        words = f"{self._labels('say')} {' · '.join(view.commands)}"
        rows += [self.row(f" {line}") for line in _wrapped(words, self._width - 2, " · ")[:2]]
        return rows

    def facts(self, view: View, height: int) -> list[Text]:
        """Facts in two columns, those that stand in the way first."""
        most = max(2, min(6, (height - 18) // 2))
        wanted = sorted(view.facts, key=lambda fact: not fact.wrong)[:2 * most]
        shown = [fact for fact in view.facts if fact in wanted]
        column = (self._width - 1) // 2
        half = (len(shown) + 1) // 2
        rows = []
        for place in range(half):
            row = Text(" ", self._theme.page, no_wrap=True)
            for fact in (shown[place:place + 1] + shown[half + place:half + place + 1]):
                row.append(self._fact(fact, column))
            row.append(" " * (self._width - row.cell_len))
            rows.append(row)
        return rows

    def _fact(self, fact: FactLine, column: int) -> Text:
        mark = "!" if fact.wrong else "+" if fact.so else "-"
        style = self._theme.wrong if fact.wrong else self._theme.page
        return Text(set_cell_size(_cut(f"{mark} {fact.words}", column - 1), column), style)

    def sound(self, sound: Sound, lines: int) -> list[Text]:
        """The last words of both, the program's in so many lines, and the microphone."""
        said = _wrapped(f"{self._labels('spoken')} {sound.spoken}", self._width - 2)
        if len(said) > lines:
            said = [*said[:lines - 1], _cut(" ".join(said[lines - 1:]), self._width - 2)]
        heard = sound.heard or self._labels("nothing heard")
        if sound.heard_as:
            heard += f"   {sound.confidence:.2f} {self._labels(sound.heard_as)}"
        last = f"{self._labels('heard')} {heard}"
        if sound.typing is not None:
            last = f"{self._labels('typing')} {sound.typing}_"
        state = self._labels("speaking" if sound.speaking else
                             "hearing" if sound.hearing else "listening")
        meter = f"{set_cell_size(state, 12)} {self._meter(sound.level_dbfs)}"
        noise = f"{self._labels('noise')} {max(-96.0, sound.floor_dbfs):.0f} dB"
        return [*(self.row(f" {line}", self._theme.quiet) for line in said),
                self.row(f" {last}", self._theme.heard),
                self._two(meter, noise, self._theme.header)]

    def _meter(self, level: float) -> str:
        cells = max(10, min(30, self._width - 60))
        full = round(max(0.0, min(1.0, (level - _LOWEST) / -_LOWEST)) * cells)
        word = ("silent" if level < -90 else "faint" if level < -45 else
                "too loud" if level > -6 else "good" if level > -40 else "quiet")
        return f"[{'#' * full}{'.' * (cells - full)}] {level:4.0f} dB {self._labels(word)}"


def _cut(words: str, width: int) -> str:
    """The words, ended by '…' where they are longer than the width."""
    return words if cell_len(words) <= width else f"{set_cell_size(words, width - 1).rstrip()}…"


def _wrapped(words: str, width: int, at: str = " ") -> list[str]:
    """Lines no wider than `width`, broken only where `at` stands; longer pieces are cut."""
    lines: list[str] = []
    for piece in words.split(at):
        if lines and cell_len(lines[-1]) + cell_len(at) + cell_len(piece) <= width:
            lines[-1] += at + piece
        else:
            lines.append(_cut(piece, width))
    return lines
