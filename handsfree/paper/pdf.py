"""Sheets to a PDF that can be read in dusk and printed in black.

May import reportlab (it draws and flows the pages) and this room's sheets.  Black and greys only;
what matters carries a frame and a word, never a colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial
from importlib import resources
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import reportlab
from reportlab.lib import colors
from reportlab.lib.enums import TA_CENTER
from reportlab.lib.pagesizes import A4, letter
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from handsfree.paper.sheet import Fix, Line, Sheet

SIZES = {"letter": letter, "a4": A4}

_MARGIN = 10 * mm
_FOOT = 7 * mm
_BOX, _NUMBER, _ANSWER, _HOLD = 7 * mm, 9 * mm, 54 * mm, 12 * mm
_GREY = colors.Color(0.88, 0.88, 0.88)
_TIGHT = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
          ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
          ("VALIGN", (0, 0), (-1, -1), "TOP")]


def render(sheets: Iterable[Sheet], *, size: str = "letter", date: str = "") -> bytes:
    """The PDF of all sheets, one after the other, pages counted per sheet.

    Args:
        size: a key of `SIZES`.
        date: printed at the foot, so that an outdated paper is seen as such.
    """
    sheets = tuple(_rules_apart(tuple(sheets)))
    width, height = SIZES[size]
    out = BytesIO()
    counts = [1] * len(sheets)
    for _ in range(2):  # a first run to count the pages, a second to print the counts
        out = BytesIO()
        document = BaseDocTemplate(
            out, pagesize=(width, height), invariant=1,
            title=" · ".join(sheet.title for sheet in sheets), author="handsfree")
        frame = Frame(_MARGIN, _MARGIN + _FOOT, width - 2 * _MARGIN,
                      height - 2 * _MARGIN - _FOOT, 0, 0, 0, 0)
        seen = [0] * len(sheets)
        document.addPageTemplates([
            PageTemplate(str(place), [frame], onPage=partial(
                _foot, sheet=sheet, place=place, seen=seen, counts=counts, date=date))
            for place, sheet in enumerate(sheets)])
        story: list[Flowable] = []
        for place, sheet in enumerate(sheets):
            story += [NextPageTemplate(str(place)), *([PageBreak()] if place else [])]
            story += _Drawing(sheet, width - 2 * _MARGIN).story()
        document.build(story)
        counts = seen
    return out.getvalue()


def _rules_apart(sheets: tuple[Sheet, ...]) -> Iterator[Sheet]:
    """What must never be is the same for all lists of a rig: once, behind the last of them."""
    yield from (replace(sheet, nevers=()) for sheet in sheets)
    if nevers := tuple(dict.fromkeys(never for sheet in sheets for never in sheet.nevers)):
        last = sheets[-1]
        yield replace(last, title=last.words("never"), defers="", closing="", lines=(), gear=(),
                      nevers=nevers)


def missing_letters(sheets: Iterable[Sheet]) -> str:
    """Characters of the sheets that their font cannot print, sorted."""
    missing: set[str] = set()
    for sheet in sheets:
        plain, strong = _fonts(sheet)
        text = set(repr(sheet) + "".join(sheet.words.words.values()))
        for name in (plain, strong):
            font: Any = pdfmetrics.getFont(name)
            known = font.face.charToGlyph
            missing |= {letter for letter in text if ord(letter) not in known}
    return "".join(sorted(missing))


def _fonts(sheet: Sheet) -> tuple[str, str]:
    """(plain, strong), registered with the library; both are embedded in the PDF."""
    if sheet.words.words["font"] == "korean":
        folder = Path(str(resources.files("handsfree") / "paper" / "fonts"))
        names = ("NotoSansKR-Regular", "NotoSansKR-Bold")
    else:
        folder = Path(reportlab.__file__).parent / "fonts"
        names = ("Vera", "VeraBd")
    for name in names:
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, folder / f"{name}.ttf"))
    return names


def _foot(
    canvas: Canvas, document: BaseDocTemplate, *, sheet: Sheet, place: int, seen: list[int],
    counts: list[int], date: str,
) -> None:
    seen[place] += 1
    plain, _ = _fonts(sheet)
    width = document.pagesize[0]
    canvas.saveState()
    canvas.setLineWidth(0.5)
    canvas.line(_MARGIN, _MARGIN + 5 * mm, width - _MARGIN, _MARGIN + 5 * mm)
    canvas.setFont(plain, 8)
    canvas.drawString(_MARGIN, _MARGIN + 1.5 * mm, f"{sheet.title} · {sheet.rig}")
    right = sheet.words("page", page=str(seen[place]), pages=str(counts[place]))
    if date:
        right = f"{sheet.words('printed', date=date)} · {right}"
    canvas.drawRightString(width - _MARGIN, _MARGIN + 1.5 * mm, right)
    canvas.restoreState()


class _Boxes(Flowable):
    """Empty tick boxes, each with a word or none."""

    def __init__(self, *words: str, font: str, side: float = 3.8 * mm) -> None:
        super().__init__()
        self._words, self._font, self._side = words, font, side

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self._step = width / len(self._words)
        return width, self._side

    def draw(self) -> None:
        self.canv.setLineWidth(1.1)
        self.canv.setFont(self._font, 9)
        for place, word in enumerate(self._words):
            self.canv.rect(place * self._step, 0, self._side, self._side)
            self.canv.drawString(place * self._step + self._side + 1.5 * mm, 1.2 * mm, word)


class _Blank(Flowable):
    """A line to write on, with a unit behind it."""

    def __init__(self, unit: str, font: str) -> None:
        super().__init__()
        self._unit, self._font = unit, font

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self._width = width
        return width, 5.5 * mm

    def draw(self) -> None:
        before, _, after = self._unit.rpartition("{}")
        room = pdfmetrics.stringWidth(after.strip(), self._font, 9) + 1.5 * mm
        start = pdfmetrics.stringWidth(before.strip(), self._font, 9) + (1.5 * mm if before else 0)
        self.canv.setFont(self._font, 9)
        self.canv.drawString(0, 1 * mm, before.strip())
        self.canv.drawString(self._width - room + 1.5 * mm, 1 * mm, after.strip())
        self.canv.setLineWidth(0.8)
        self.canv.line(start, 0.6 * mm, self._width - room, 0.6 * mm)


class _Drawing:
    """One sheet as flowables."""

    def __init__(self, sheet: Sheet, width: float) -> None:
        self._sheet = sheet
        self._width = width
        self._words = sheet.words
        plain, strong = _fonts(sheet)
        self._plain, self._strong = plain, strong

        def style(font: str, size: float, **more: Any) -> ParagraphStyle:
            return ParagraphStyle("", fontName=font, fontSize=size, leading=size * 1.17, **more)

        self._do = style(strong, 9.5)
        self._small = style(plain, 7.5)
        self._text = style(plain, 8)
        self._bold = style(strong, 8)
        self._title = style(strong, 16, spaceAfter=1 * mm)
        self._head = style(strong, 11, spaceBefore=2 * mm, spaceAfter=1 * mm)
        self._place = style(strong, 8, textColor=colors.white)
        self._stop = style(strong, 8, textColor=colors.white, alignment=TA_CENTER)
        self._respond = style(strong, 9.5)

    def story(self) -> list[Flowable]:
        sheet = self._sheet
        found: list[Flowable] = [
            self._say(sheet.title, self._title),
            Table([[self._say(sheet.rig, self._bold), _Blank("", self._plain),
                    _Blank("", self._plain)],
                   [self._say(self._words("other rig"), self._small),
                    self._say(self._words("place"), self._small),
                    self._say(self._words("date"), self._small)]],
                  colWidths=[self._width * 0.5, self._width * 0.27, self._width * 0.23],
                  style=[("LEFTPADDING", (0, 0), (0, -1), 0), ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
                         ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]),
            Spacer(1, 2 * mm),
        ]
        if sheet.lines:
            found += [self._say(self._words("legend"), self._text), Spacer(1, 1 * mm)]
        if sheet.defers:
            found += [self._say(sheet.defers, self._bold), Spacer(1, 2 * mm)]
        place = None
        for line in sheet.lines:
            rows: list[Flowable] = []
            here = line.place or (self._words("spot") if line.question else place)
            if here and here != place:
                place = here
                rows = [Spacer(1, 1.5 * mm), self._heading(here)]
            first, *rest = self._line(line)
            found += [KeepTogether([*rows, first]), *rest]
        if sheet.closing:
            found += [Spacer(1, 3 * mm), Paragraph(
                f'<font name="{self._strong}">{escape(self._words("closing"))}:</font>'
                f" {escape(sheet.closing)}", self._text)]
        found += self._gear()
        if sheet.nevers:
            for never in sheet.nevers:
                found.append(KeepTogether([Table(
                    [[[self._say(never.when, self._bold), self._say(never.now, self._text)]]],
                    colWidths=[self._width],
                    style=[("LINEBEFORE", (0, 0), (0, -1), 3, colors.black),
                           ("LEFTPADDING", (0, 0), (-1, -1), 3 * mm),
                           ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
                           ("TOPPADDING", (0, 0), (-1, -1), 2)]), Spacer(1, 1.5 * mm)]))
        return found

    def _say(self, text: str, style: ParagraphStyle) -> Paragraph:
        return Paragraph(escape(text), style)

    def _heading(self, place: str) -> Table:
        return Table([[self._say(place.upper(), self._place)]], colWidths=[self._width], style=[
            ("BACKGROUND", (0, 0), (-1, -1), colors.Color(0.25, 0.25, 0.25)),
            ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5)])

    def _line(self, line: Line, inset: float = 0.0) -> list[Flowable]:
        """The line, and below it what to do when it fails."""
        words: list[Flowable] = []
        do = escape(line.do)
        for when in (line.waits, line.only_if):
            if when:
                do = f'<font name="{self._plain}">{escape(when)}</font> {do}'
        if inset and line.place:
            do = f'<font name="{self._plain}">({escape(line.place)})</font> {do}'
        if line.caution:
            words.append(self._say(line.caution, self._bold))
        words.append(Paragraph(do, self._bold if inset else self._do))
        if more := " ".join(text for text in (line.first, line.detail) if text):
            words.append(self._say(more, self._small))
        answer = [self._words("yes"), self._words("no")]
        right: list[Flowable] = []
        box: Flowable | str = _Boxes("", font=self._plain)
        if line.question:
            box, right = "", [_Boxes(*answer, font=self._plain)]
        elif line.limits:
            right = [Table([[_Blank(line.unit, self._plain), self._say(line.limits, self._bold)]],
                           colWidths=[0.5 * _ANSWER, 0.5 * _ANSWER - 4 * mm],
                           style=[*_TIGHT, ("LEFTPADDING", (1, 0), (1, 0), 2 * mm)])]
        elif line.respond:
            right = [Table([[self._say(self._words("hold"), self._stop),
                             self._say(line.respond, self._respond)]],
                           colWidths=[_HOLD, _ANSWER - 3 * mm - _HOLD],
                           style=[*_TIGHT, ("BACKGROUND", (0, 0), (0, 0), colors.black),
                                  ("LEFTPADDING", (1, 0), (1, 0), 1.5 * mm)])]
        style: list[Any] = [
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5), ("LEFTPADDING", (0, 0), (-1, -1), 1.5 * mm),
            ("RIGHTPADDING", (0, 0), (-1, -1), 1.5 * mm)]
        if line.respond:
            style.append(("BOX", (0, 0), (-1, -1), 1.5, colors.black))
        else:
            style.append(("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.grey))
        if inset:
            style.append(("LINEBEFORE", (0, 0), (0, -1), 2.5, colors.grey))
        number = Paragraph(line.number, self._small if inset else self._bold)
        widths = [_BOX, _NUMBER + (3 * mm if inset else 0), 0, _ANSWER]
        widths[2] = self._width - inset - sum(widths)
        if not right:  # words may run on to the edge
            widths[2] += widths.pop()
        row = Table([[box, number, words, *([right] if right else [])]], colWidths=widths,
                    style=style, hAlign="RIGHT")
        return [row, *(self._fix(line.fix) if line.fix else [])]

    def _fix(self, fix: Fix) -> list[Flowable]:
        inset = 12 * mm

        def bar(text: str, style: ParagraphStyle) -> Table:
            return Table([[self._say(text, style)]], colWidths=[self._width - inset],
                         hAlign="RIGHT", style=[
                             ("LINEBEFORE", (0, 0), (0, -1), 2.5, colors.grey),
                             ("BACKGROUND", (0, 0), (-1, -1), _GREY),
                             ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                             ("BOTTOMPADDING", (0, 0), (-1, -1), 3)])

        if fix.as_at:
            return [bar(fix.as_at, self._text)]
        found: list[Flowable] = [bar(fix.says, self._bold)]
        for line in fix.steps:
            found += self._line(line, inset)
        found.append(bar(fix.gives_up, self._text))
        return [KeepTogether(found[:2]), *found[2:]]

    def _gear(self) -> list[Flowable]:
        gear = self._sheet.gear
        if not gear:
            return []
        head = [self._say(self._words(key), self._bold)
                for key in ("thing", "pieces", "out", "back")]
        cells = [[self._say(thing.says, self._text), self._say(str(thing.count), self._text),
                  _Boxes("", font=self._plain), _Boxes("", font=self._plain)] for thing in gear]
        half = (len(cells) + 1) // 2
        gap = 6 * mm
        widths = [(self._width - gap) / 2 - 52 * mm, 16 * mm, 18 * mm, 18 * mm]
        rest = len(cells) - half
        rows = [[*head, "", *(head if rest else ["", "", "", ""])]]
        for place in range(half):
            right = cells[half + place] if place < rest else ["", "", "", ""]
            rows.append([*cells[place], "", *right])
        table = Table(rows, colWidths=[*widths, gap, *widths], style=[
            ("LINEBELOW", (0, 0), (3, -1), 0.4, colors.grey),
            *([("LINEBELOW", (5, 0), (8, rest), 0.4, colors.grey)] if rest else []),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3), ("LEFTPADDING", (0, 0), (-1, -1), 2)])
        own = Table([[self._say(self._words("own gear"), self._text), _Blank("", self._plain)]],
                    colWidths=[62 * mm, self._width - 62 * mm],
                    style=[("LEFTPADDING", (0, 0), (-1, -1), 2), ("VALIGN", (0, 0), (-1, -1), "BOTTOM")])
        return [KeepTogether([self._say(self._words("gear"), self._head), table, own])]
