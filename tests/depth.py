"""How many random cases a test tries: few in the usual run, many where somebody has the time."""

from __future__ import annotations

import os

LONG = os.environ.get("HANDSFREE_TESTS") == "long"


def cases(usual: int, long: int) -> int:
    """So many of them; as many as `long` where HANDSFREE_TESTS is "long"."""
    return long if LONG else usual
