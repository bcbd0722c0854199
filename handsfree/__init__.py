"""Spoken checklists for a solo operator who sets up and tears down a towed trailer."""

import os

__version__ = "0.1.0"

# The matrices of recognition are small: further threads only wait for each other, and beside
# other work on two cores an utterance then takes twenty times as long.  Read when numpy loads.
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
