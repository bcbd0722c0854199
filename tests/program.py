"""A command in a process of its own on a virtual sound card, and somebody who speaks to it."""

import os
import queue
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import silence
from handsfree.rehearsal.rehearsal import at_level
from handsfree.speaking.operator_voice import OperatorVoice
from tests.pulse import Pulse


class Program:
    """`handsfree` with these words, its lines as it prints them, and an operator with a voice."""

    def __init__(
        self, sound: Pulse, voice: OperatorVoice, *words: str, cwd: Path | None = None,
        **environment: str,
    ) -> None:
        self.sound, self.voice = sound, voice
        self.lines: list[str] = []
        self._new: queue.Queue[str] = queue.Queue()
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-m", "handsfree", *words], cwd=cwd, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            env={**os.environ, **sound.environment, **environment})
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.lines.append(line)
            self._new.put(line)

    def says(self, words: str, limit: float) -> bool:
        """Whether it prints these words within so many seconds, and has spoken that prompt."""
        until = time.monotonic() + limit
        while time.monotonic() < until:
            try:
                line = self._new.get(timeout=0.5)
            except queue.Empty:
                continue
            if words in line:
                time.sleep(1.2 + 0.075 * len(line))
                return True
        return False

    def wait(self, words: str, limit: float = 40) -> None:
        """Until the program prints these words, and has spoken that prompt to its end."""
        if not self.says(words, limit):
            pytest.fail(f"'{words}' did not come in:\n{''.join(self.lines)}")

    def say(
        self, words: str, then: str, tries: int = 3, sink: str = "operator", limit: float = 8
    ) -> None:
        """Say words, again if they were not understood, until the program says `then`."""
        for _ in range(tries):
            self.sound.speak(np.concatenate([at_level(self.voice.render(words)), silence(0.5)]),
                             sink)
            if self.says(then, limit):
                return
        pytest.fail(f"'{words}' did not lead to '{then}':\n{''.join(self.lines)}")
