"""For every test: numpy with one thread, as the program runs (see `handsfree/__init__.py`), and
no deadline for hypothesis, since no test is timed."""

from hypothesis import settings

import handsfree  # noqa: F401  (before numpy is imported)

settings.register_profile("ours", deadline=None)
settings.load_profile("ours")
