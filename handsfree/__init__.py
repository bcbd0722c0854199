"""Spoken checklists for a solo operator who sets up and tears down a towed trailer."""

import os

__version__ = "0.1.0"

# The matrices of recognition are small: further threads only wait for each other, and beside
# other work on two cores an utterance then takes twenty times as long.  The speech gate that is
# measured beside ours asks for four threads whatever the number says, and takes ten times as long
# with them (1.1 ms a frame of 32 ms against 0.12); the limit binds it.  Read when the libraries
# load.
for _threads in (
    "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "OMP_THREAD_LIMIT", "MKL_NUM_THREADS"
):
    os.environ.setdefault(_threads, "1")
