"""The virtual sound card of `benchmarks.virtual_card` as a fixture, for the whole session.

    from tests.pulse import Pulse, pulse  # the fixture

A test that asks for it is skipped with the reason where something is missing.  PortAudio must be
started under `Pulse.environment`: the fixture sets it for this process and for processes started
from it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from benchmarks.virtual_card import (  # noqa: F401, for those who import them from here
    LOUDSPEAKER,
    MICROPHONE,
    NO_SOUND,
    PARTNER_MICROPHONE,
    Pulse,
    Recording,
    missing,
    virtual_card,
)


@pytest.fixture(scope="session")
def pulse() -> Iterator[Pulse]:
    """The daemon, started for the session."""
    if lacking := missing():
        pytest.skip(lacking)
    with pytest.MonkeyPatch.context() as patch, virtual_card() as card:
        for name, value in card.environment.items():
            if name != "HOME":
                patch.setenv(name, value)
        _rescan()
        yield card
    _rescan()


def _rescan() -> None:
    """Let PortAudio look for devices again, where a test before has started it."""
    sounddevice = sys.modules.get("sounddevice")
    if sounddevice is not None:
        sounddevice._terminate()
        sounddevice._initialize()
