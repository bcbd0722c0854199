"""Whose code a figure is, and which figure counts where nobody said what region the rig is in.

Pure: standard library only.  A region here is where rules are much alike, not where they are the
same: the code of the place and a licensed trade come first everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

US, EUROPE = "US", "Europe"

REGIONS = (US, EUROPE)
"""What a rig file may say."""


def rule(by_region: Mapping[str, float], region: str,
         stricter: Callable[[Iterable[float]], float] = min) -> tuple[float, str]:
    """The figure that counts, and whose it is.

    Args:
        by_region: a figure for each of `REGIONS`.
        region: where the rig is; "" where nobody said, and the stricter figure counts.
        stricter: picks it.
    """
    if region in by_region:
        return by_region[region], region
    figure = stricter(by_region.values())
    return figure, next(name for name, value in by_region.items() if value == figure)
