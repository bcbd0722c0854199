"""The option that names a recogniser, for every command that hears; see `hearing.engines`.

Imports click only, so that help stays instant.
"""

from __future__ import annotations

import click

NAMES = ("auto", "own", "vosk", "pocketsphinx")
"""What `open_recogniser` takes; a test holds the two together."""

engine_option = click.option("--engine", type=click.Choice(NAMES), default="auto", show_default=True,
                             help="Recognizer; auto takes Vosk when there is a model.")
