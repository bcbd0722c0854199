"""Large type for a terminal: letters of several rows, the largest that fit.

May import pyfiglet (letters of blocks), Pillow (other scripts, drawn from the font that the paper
uses) and this package's fonts.
"""

from __future__ import annotations

from functools import lru_cache
from importlib import resources
from pathlib import Path

from pyfiglet import Figlet

FONTS = ("smmono12", "smmono9", "smblock")
"""Fonts of solid strokes, largest first: 10, 8 and 4 rows."""

GAP = 3
"""Cells between two words."""

SIZES = (28, 24, 20, 16, 14, 12)
"""Heights in dots, two to a row, at which other scripts are drawn; below 12 nobody reads Hangul."""

_PLAIN = {"’": "'", "‘": "'", "–": "-", "—": "-", "½": "1/2", "¼": "1/4", "¾": "3/4", "“": '"',
          "”": '"', "…": "..."}
"""What may stand for a letter that a font lacks without changing what is read."""

_BLOCKS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
"""Four dots in one cell: bits for upper left, upper right, lower left, lower right."""

_INK = 110
"""Grey value from which a dot is set: thin strokes stay whole."""


@lru_cache(maxsize=64)
def large(text: str, width: int, height: int) -> tuple[str, ...]:
    """`text` in the largest letters that fit into `width` x `height` cells.

    Returns:
        The rows, none wider than `width`; empty where not even the smallest letters fit, so that
        the caller shows the text as it is.
    """
    text = " ".join("".join(_PLAIN.get(letter, letter) for letter in text).split())
    if not text or height < 1:
        return ()
    fitting = [name for name in FONTS if _has(name, text)]
    for name in fitting:
        rows = _set(text, name, width)
        if 0 < len(rows) <= height:
            return rows
    return () if fitting else _drawn(text, width, height)


@lru_cache(maxsize=8)
def _font(name: str) -> Figlet:
    return Figlet(font=name, width=10_000)


def _has(name: str, text: str) -> bool:
    return all(ord(letter) in _font(name).Font.chars for letter in text)


@lru_cache(maxsize=512)
def _word(word: str, name: str) -> tuple[str, ...]:
    """The word's rows, equally wide."""
    rows = str(_font(name).renderText(word)).split("\n")[:_font(name).Font.height]
    wide = max(len(row.rstrip()) for row in rows)
    return tuple(row.rstrip().ljust(wide) for row in rows)


def _set(text: str, name: str, width: int) -> tuple[str, ...]:
    """The text set in lines; empty when a word is wider than that."""
    lines: list[list[str]] = []
    for word in text.split():
        rows = _word(word, name)
        if len(rows[0]) > width:
            return ()
        if lines and len(lines[-1][0]) + GAP + len(rows[0]) <= width:
            lines[-1] = [f"{row}{' ' * GAP}{more}"
                         for row, more in zip(lines[-1], rows, strict=True)]
        else:
            lines.append(list(rows))
    return _trimmed([row for line in lines for row in line])


def _drawn(text: str, width: int, height: int) -> tuple[str, ...]:
    try:
        from PIL import ImageFont
    except ImportError:  # of the extra "paper": without it the text is shown as it is
        return ()

    file = Path(str(resources.files("handsfree") / "paper" / "fonts" / "NotoSansKR-Bold.ttf"))
    for size in SIZES:
        font = ImageFont.truetype(str(file), size)
        lines: list[str] = []
        for word in text.split():
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and font.getlength(longer) <= 2 * width:
                lines[-1] = longer
            else:
                lines.append(word)
        if any(font.getlength(line) > 2 * width for line in lines):
            continue
        rows = _trimmed([row for line in lines for row in _dots(line, font)])
        if len(rows) <= height:
            return rows
    return ()


def _dots(line: str, font: object) -> list[str]:
    """One line drawn with a font of Pillow's, as rows of cells of four dots."""
    from PIL import Image, ImageDraw

    ascent, descent = font.getmetrics()  # type: ignore[attr-defined]
    wide = int(font.getlength(line)) + 2  # type: ignore[attr-defined]
    wide, tall = wide + wide % 2, ascent + descent + (ascent + descent) % 2
    image = Image.new("L", (wide, tall), 0)
    ImageDraw.Draw(image).text((0, 0), line, font=font, fill=255)  # type: ignore[arg-type]
    ink = [[value > _INK for value in image.crop((0, y, wide, y + 1)).tobytes()]
           for y in range(tall)]
    rows = ["".join(_BLOCKS[ink[y][x] + 2 * ink[y][x + 1] + 4 * ink[y + 1][x]
                            + 8 * ink[y + 1][x + 1]] for x in range(0, wide, 2))
            for y in range(0, tall, 2)]
    return [*_trimmed(rows), ""]


def _trimmed(rows: list[str]) -> tuple[str, ...]:
    """Without blanks at the ends of rows, and without empty rows above and below."""
    rows = [row.rstrip() for row in rows]
    while rows and not rows[-1]:
        rows.pop()
    while rows and not rows[0]:
        rows.pop(0)
    return tuple(rows)
