"""How much is tried: little in the usual run, with HANDSFREE_TESTS=long all that is marked `long`, and
many more random cases."""

from __future__ import annotations

import os

LONG = os.environ.get("HANDSFREE_TESTS") == "long"


def cases(usual: int, long: int) -> int:
    """So many of them; as many as `long` where HANDSFREE_TESTS is "long"."""
    return long if LONG else usual
