"""How much memory this process has needed at most.

Standard library only.
"""

from __future__ import annotations

import resource
import sys


def peak_megabytes() -> float:
    """Largest resident size of this process so far, in megabytes (of a million bytes).

    Linux carries `ru_maxrss` over from the process that started this one, so its own high-water
    mark is read instead, where there is one.
    """
    try:
        with open("/proc/self/status", encoding="ascii") as status:
            for line in status:
                if line.startswith("VmHWM:"):
                    return int(line.split()[1]) * 1024 / 1e6
    except OSError:
        pass
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / 1e6 if sys.platform == "darwin" else peak * 1024 / 1e6
