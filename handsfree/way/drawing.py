"""The way of a checklist on a plan of the rig, as SVG, and the same in lines of text.

Pure; standard library and this room only.  The nose points to the left, so that the trailer's right
is above.  Colours are two of Okabe and Ito's palette; each has a number and a word beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby, pairwise

from handsfree.way.ground import CLEARANCE, OUTSIDE, Box, Point
from handsfree.way.places import Layout
from handsfree.way.shortest import AS_WRITTEN, EXACT, Way
from handsfree.way.walking import OnFoot

_FOOT = 15.0
"""Pixels to a foot."""
_LETTER = 6.3
"""Pixels that a letter of a label takes at most, on the average."""
_MARGIN, _HEAD, _LINE = 60.0, 56.0, 14.0
_LIST = 620.0
"""Pixels for the list of stops beside the plan."""
_GAP = 30.0
_BEFORE, _AFTER = "#D55E00", "#0072B2"
_STYLE = ("text{font-family:sans-serif;fill:#222}.s{font-size:12px}.p{font-size:10.5px;fill:#555}"
          ".n{font-size:10.5px;font-weight:bold;fill:#222}.t{font-size:17px;font-weight:bold}"
          ".l{stroke:#999;stroke-width:.7}.b{fill:#eee;stroke:#555;stroke-width:1.5}"
          ".g{fill:none;stroke:#999;stroke-dasharray:5 4}")


def stops_at(walked: OnFoot) -> list[tuple[str, tuple[str, ...]]]:
    """(place, steps done there before going on), in order."""
    return [(place, tuple(dict.fromkeys(step for step, _ in some)))
            for place, some in groupby(walked.stops, key=lambda stop: stop[1])]


def figures(walked: OnFoot) -> str:
    """Feet, crossings, passages through the door and minutes, in words."""
    waited = f", besides {walked.waited:.1f} min of waiting" if walked.waited >= 0.05 else ""
    return (f"{walked.feet:.0f} ft, {walked.crossings} crossings from side to side,"
            f" {walked.doors} passages through the door, {walked.seconds / 60:.1f} min{waited}")


def in_words(way: Way) -> Iterator[str]:
    """The figures before and after, and the order by places."""
    yield f"as written: {figures(way.before)}"
    if way.method == AS_WRITTEN:
        yield f"kept as written: {way.why}"
    else:
        yield f"shortest:   {figures(way.after)}"
        if way.optimum:
            more = 100 * (way.after.seconds / way.optimum - 1)
            yield ("No order that keeps what must come first, and together, walks less than"
                   f" {way.optimum / 60:.1f} min" + (
                       "." if way.method == EXACT else f"; this one is {more:.0f} % above."))
        else:
            yield "It is not proved to be the shortest: there are too many orders."
    for number, (place, steps) in enumerate(stops_at(way.after), start=1):
        yield f"{number:3d} {place:14s} {', '.join(steps)}"


def drawn(way: Way, layout: Layout, title: str) -> str:
    """An SVG document: the way as written above, the shortest below."""
    walks = [("As written", way.before, _BEFORE)]
    if way.method != AS_WRITTEN:
        walks.append(("Shortest", way.after, _AFTER))
    parts: list[str] = []
    top = 0.0
    width = 0.0
    for name, walked, colour in walks:
        panel = _Panel(layout, walked)
        parts.append(f'<g transform="translate(0 {top:.0f})">')
        parts += panel.drawn(f"{title}. {name}", colour)
        parts.append("</g>")
        top += panel.height
        width = max(width, panel.width)
    told = escape(f"{title}: as written {figures(way.before)}; now {figures(way.after)}.")
    return "\n".join([
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{top:.0f}"'
        f' viewBox="0 0 {width:.0f} {top:.0f}" role="img">',
        f"<title>{escape(title)}</title>", f"<desc>{told}</desc>",
        f"<style>{_STYLE}</style>", '<rect width="100%" height="100%" fill="#fff"/>',
        *parts, "</svg>", ""])


class _Panel:
    """One walk on the plan, with its stops in a list beside it."""

    def __init__(self, layout: Layout, walked: OnFoot) -> None:
        self._layout, self._walked = layout, walked
        self._stops = stops_at(walked)
        used = {place for place, _ in self._stops}
        spots = [point for ground in layout.grounds for name, point in ground.places.items()
                 if name in used]
        spots += [corner for hitched in (False, True) for one in layout.outlines(hitched)
                  for corner in one.corners]
        self._left = min(x for x, _ in spots)
        self._top = max(y for _, y in spots)
        across, down = max(x for x, _ in spots) - self._left, self._top - min(y for _, y in spots)
        self._plan = across * _FOOT + 2 * _MARGIN
        self._rows = _rows(self._stops)
        self.width = self._plan + _GAP + _LIST
        self.height = _HEAD + max(down * _FOOT + 2 * _MARGIN, len(self._rows) * _LINE + _MARGIN)

    def drawn(self, title: str, colour: str) -> Iterator[str]:
        yield f'<text class="t" x="24" y="26">{escape(title)}</text>'
        yield f'<text class="s" x="24" y="44">{escape(figures(self._walked))}</text>'
        states = {hitched for hitched, _ in self._walked.legs} or {True}
        for hitched in sorted(states):
            for one in self._layout.outlines(hitched):
                yield self._outline(one, "b" if hitched is max(states) else "g")
        yield from self._ways(colour)
        yield from self._spots()
        for row, (text, is_first) in enumerate(self._rows):
            yield (f'<text class="{"n" if is_first else "p"}" x="{self._plan + _GAP:.0f}"'
                   f' y="{_HEAD + row * _LINE:.0f}">{escape(text)}</text>')

    def _at(self, point: Point) -> tuple[float, float]:
        return (_MARGIN + (point[0] - self._left) * _FOOT, _HEAD + _MARGIN + (self._top - point[1]) * _FOOT)

    def _outline(self, one: Box, style: str) -> str:
        """An obstacle as it is, without the clearance around it."""
        middle = (sum(x for x, _ in one.corners) / 4, sum(y for _, y in one.corners) / 4)
        corners = [self._at((_nearer(x, middle[0]), _nearer(y, middle[1]))) for x, y in one.corners]
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
        return f'<polygon class="{style}" points="{points}"/>'

    def _ways(self, colour: str) -> Iterator[str]:
        """Each leg a little beside the one before, so that ways to and fro can be told apart; what
        is walked through the door and inside is dotted."""
        for number, (_, leg) in enumerate(self._walked.legs):
            beside = (number % 7 - 3) * 1.1
            for (a, room), (b, other) in pairwise(leg.points):
                (x, y), (to_x, to_y) = self._at(a), self._at(b)
                dash = "" if room == other == OUTSIDE else ' stroke-dasharray="2 3"'
                yield (f'<line x1="{x + beside:.1f}" y1="{y + beside:.1f}" x2="{to_x + beside:.1f}"'
                       f' y2="{to_y + beside:.1f}" stroke="{colour}" stroke-width="1.3"'
                       f' stroke-opacity="0.75"{dash}/>')

    def _spots(self) -> Iterator[str]:
        """The places with the numbers of their stops, each label where none stands yet."""
        numbers: dict[str, list[int]] = {}
        for number, (place, _) in enumerate(self._stops, start=1):
            numbers.setdefault(place, []).append(number)
        hitched = bool(self._walked.legs) and self._walked.legs[0][0]
        points = self._layout.grounds[hitched].places
        for name in self._layout.truck_places & set(numbers):  # it stands elsewhere once hitched
            x, y = self._at(self._layout.grounds[not hitched].places[name])
            yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2" fill="#999"/>'
        taken: list[tuple[float, float, float]] = []
        for place in sorted(numbers, key=lambda name: points[name]):
            x, y = self._at(points[place])
            told = " ".join(map(str, numbers[place]))
            wide = _LETTER * (len(place) + len(told) + 2)
            outward = -1 if points[place][1] > 0 else 1
            level = next(level for level in range(1, 99) if not any(
                abs(y + outward * level * _LINE - other) < _LINE - 1 and x < right and left < x + wide
                for left, right, other in taken))
            at = y + outward * level * _LINE
            taken.append((x, x + wide, at))
            yield f'<line class="l" x1="{x:.1f}" y1="{y:.1f}" x2="{x + 2:.1f}" y2="{at:.1f}"/>'
            yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.2" fill="#222"/>'
            yield (f'<text class="p" x="{x + 4:.1f}" y="{at + 4:.1f}">{escape(place)} '
                   f'<tspan class="n">{told}</tspan></text>')


def _nearer(value: float, middle: float) -> float:
    """A corner's number without the clearance."""
    return value + CLEARANCE if value < middle else value - CLEARANCE


def _rows(stops: Sequence[tuple[str, tuple[str, ...]]]) -> list[tuple[str, bool]]:
    """(text, whether a stop begins with it), each short enough for the list."""
    rows: list[tuple[str, bool]] = []
    for number, (place, steps) in enumerate(stops, start=1):
        line, is_first = f"{number} {place}:", True
        for step in steps:
            if len(line) + len(step) > 84:
                rows.append((f"{line},", is_first))
                line, is_first = f"     {step}", False
            else:
                line += f" {step}" if line.endswith(":") else f", {step}"
        rows.append((line, is_first))
    return rows
