"""For every test: numpy with one thread, as the program runs (see `handsfree/__init__.py`)."""

import handsfree  # noqa: F401  (before numpy is imported)
