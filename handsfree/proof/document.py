"""A document of headings, paragraphs, lists and tables, as one HTML page or as plain text.

Pure.  Imports nothing of ours.  Whatever comes in is text: the page escapes all of it, needs
nothing else, and forbids the browser to fetch anything.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

WIDTH = 80
"""Columns of the plain text."""


@dataclass(frozen=True)
class Ref:
    """Words that lead to the heading with this anchor."""

    anchor: str
    text: str


Words = str | Ref | tuple["str | Ref", ...]
"""Running text: plain, or with references in it."""


@dataclass(frozen=True)
class Heading:
    """`level` 1 to 3; `anchor` is what a `Ref` names."""

    level: int
    text: str
    anchor: str = ""


@dataclass(frozen=True)
class Para:
    """A paragraph; `mark` is '', 'good' or 'bad'."""

    words: Words
    mark: str = ""


@dataclass(frozen=True)
class Items:
    """A list."""

    items: tuple[Words, ...]


@dataclass(frozen=True)
class Table:
    """Rows under heads; each row is as long as `heads`."""

    heads: tuple[str, ...]
    rows: tuple[tuple[Words, ...], ...]


Block = Heading | Para | Items | Table

_STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 60rem; background: #fff; color: #1a1a1a;
  font: 1rem/1.5 system-ui, "DejaVu Sans", Verdana, sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.6rem; margin: 0 0 .5rem; }
h2 { font-size: 1.3rem; margin: 2.2rem 0 .4rem; border-top: 2px solid #0072b2; padding-top: .6rem; }
h3 { font-size: 1.05rem; margin: 1.6rem 0 .3rem; }
p, ul { margin: .3rem 0; } ul { padding-left: 1.3rem; }
.good { border-left: .3rem solid #00734c; padding-left: .6rem; }
.bad { border-left: .3rem solid #b3261e; padding-left: .6rem; }
table { border-collapse: collapse; font-size: .9rem; width: 100%; margin: .4rem 0; }
th, td { padding: .25rem .6rem .25rem 0; text-align: left; vertical-align: top;
  border-bottom: 1px solid #ddd; }
th { border-bottom: 2px solid #767676; }
nav ul { list-style: none; padding: 0; } nav li { display: inline-block; margin-right: 1rem; }
a { color: #00527f; }
@media screen and (max-width: 40rem) { body { padding: .7rem; }
  table, tbody, tr, td { display: block; } thead { display: none; }
  tr { border-bottom: 1px solid #767676; padding: .3rem 0; } td { border: 0; padding: .1rem 0; }
  td::before { content: attr(data-head) ": "; color: #555; } }
@media print { body { max-width: none; padding: 0; font-size: 9.5pt; } nav { display: none; }
  h2, h3 { break-after: avoid; } tr { break-inside: avoid; } table { font-size: 8.5pt; }
  thead { display: table-header-group; } a { color: inherit; text-decoration: none; } }
"""

_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


# --- a page -------------------------------------------------------------------------------------

def as_html(title: str, blocks: Sequence[Block]) -> str:
    """The page, with links to its headings of level 2."""
    links = "".join(f"<li>{_html(Ref(block.anchor, block.text))}</li>" for block in blocks
                    if isinstance(block, Heading) and block.level == 2 and block.anchor)
    body = "\n".join(_block(block) for block in blocks)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f'<header><h1>{escape(title)}</h1>\n<nav aria-label="On this page"><ul>{links}</ul></nav>'
        f"</header>\n<main>\n{body}\n</main>\n</body>\n</html>\n")


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        name = f' id="{escape(_anchor(block.anchor), quote=True)}"' if block.anchor else ""
        return f"<h{block.level}{name}>{escape(block.text)}</h{block.level}>"
    if isinstance(block, Para):
        mark = f' class="{block.mark}"' if block.mark in ("good", "bad") else ""
        return f"<p{mark}>{_html(block.words)}</p>"
    if isinstance(block, Items):
        return "<ul>" + "".join(f"<li>{_html(item)}</li>" for item in block.items) + "</ul>"
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in block.heads)
    rows = "".join("<tr>" + "".join(
        f'<td data-head="{escape(head, quote=True)}">{_html(cell)}</td>'
        for head, cell in zip(block.heads, row, strict=True)) + "</tr>" for row in block.rows)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def _html(words: Words) -> str:
    if isinstance(words, tuple):
        return "".join(_html(part) for part in words)
    if isinstance(words, Ref):
        href = escape(_anchor(words.anchor), quote=True)
        return f'<a href="#{href}">{escape(words.text)}</a>'
    return escape(words)


def _anchor(text: str) -> str:
    """Letters, digits and hyphens only; different texts stay different."""
    return "".join(c if c.isascii() and (c.isalnum() or c == "-") else f"_{ord(c):x}_"
                   for c in text)


# --- plain text ---------------------------------------------------------------------------------

def as_text(title: str, blocks: Sequence[Block]) -> str:
    """The same, for a terminal or a mail."""
    lines = [title, "=" * len(title)]
    for block in blocks:
        lines += ["", *_lines(block)]
    return "\n".join(_clean(line) for line in lines) + "\n"


def _lines(block: Block) -> Iterator[str]:
    if isinstance(block, Heading):
        yield block.text
        yield ("=", "-", "~")[min(block.level, 3) - 1] * len(block.text)
    elif isinstance(block, Para):
        yield from _wrapped(_plain(block.words))
    elif isinstance(block, Items):
        for item in block.items:
            yield from _wrapped(_plain(item), "- ", "  ")
    else:
        for place, row in enumerate(block.rows):
            if place:
                yield ""
            for head, cell in zip(block.heads, row, strict=True):
                yield from _wrapped(f"{head}: {_plain(cell)}", "  ", "    ")


def _wrapped(text: str, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then,
                         break_on_hyphens=False)


def _plain(words: Words) -> str:
    if isinstance(words, tuple):
        return "".join(_plain(part) for part in words)
    return words.text if isinstance(words, Ref) else words


def _clean(line: str) -> str:
    """Without characters that would steer a terminal."""
    return "".join(c for c in line if c.isprintable())
