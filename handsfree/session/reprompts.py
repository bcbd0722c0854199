"""What to say when nothing was understood several times in a row: each time another way out.

Pure.  Never the same sentence again and again, and never silence: what is wanted, how to be heard
better, digits one by one, the keys where there are any.  Who types is told by turns what is wanted and
how to hear what can be said.  After that, endless noise or other people's
talk gets a tone, and now and then a sentence again.
"""

from __future__ import annotations

FAILED = frozenset({"unclear", "say again"})
"""Keys of prompts that say that it was not understood, or not surely enough."""

WANTED, TONE = "wanted", "tone"
"""What is no template: the sentence that says what is wanted here; a tone without words."""

_EVERY = 6
"""Once the ways are through, one of them is told again every so many times."""


def reprompt(times: int, *, reading: bool, keys: bool, typed: bool = False) -> str:
    """The template that answers what was not understood for the `times`th time in a row, from 1.

    Args:
        reading: a number is wanted, which can be said digit by digit.
        keys: there is a keyboard, which may be told of.
        typed: it was typed, so that nothing has to be said about hearing, and each gets a sentence.

    Returns:
        A key of the templates, `WANTED` or `TONE`.
    """
    if typed:
        turns = [WANTED, "hard words", *(["hard digits"] if reading else [])]
        return "unclear" if times == 1 else turns[(times - 2) % len(turns)]
    ways = ["unclear", WANTED, "hard to hear", *(["hard digits"] if reading else []),
            *(["hard keys"] if keys else []), WANTED]
    if times <= len(ways):
        return ways[times - 1]
    after = times - len(ways)
    if after % _EVERY:
        return TONE
    told = ways[2:]
    return told[(after // _EVERY - 1) % len(told)]
