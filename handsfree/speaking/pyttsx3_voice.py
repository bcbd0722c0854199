"""The voice that users hear: pyttsx3, in a process of its own that may hang, crash and come back.

May import numpy, ``handsfree.audio``, ``handsfree.errors``, ``handsfree.sound.files`` and the
port.  The engine itself is imported only by `handsfree.speaking.pyttsx3_worker`, in the other process.
"""

from __future__ import annotations

import queue
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import asdict
from importlib import metadata
from pathlib import Path
from subprocess import PIPE
from types import TracebackType
from typing import Any, Self

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, silence
from handsfree.errors import DeviceError, InputError
from handsfree.sound.files import read_sound
from handsfree.speaking import pyttsx3_worker
from handsfree.speaking.pyttsx3_worker import read_frame, write_frame
from handsfree.speaking.voice import VoiceOptions

START_TIMEOUT = 30.0
"""Seconds that a slow machine may take to start the engine."""

SECONDS_A_CHARACTER = 0.02
"""Added to the timeout of a render: two hundred times what espeak-ng needs."""

ATTEMPTS = 2
"""A render is tried so often; between two, the engine's process is started anew."""

GRACE = 2.0
"""Seconds that the process is waited for beyond the limit that it sets its engine."""

AUDIBLE = 33
"""Samples beyond this (-60 dBFS) are not silence."""

BREATH = 0.05
"""Silence left before and after a prompt, seconds."""

MEND = "check the speech engine with `handsfree doctor`, or go on with screen and tones"


class Pyttsx3Voice:
    """A `Voice` through pyttsx3.  Threads may share it; they take turns."""

    def __init__(
        self,
        options: VoiceOptions = VoiceOptions(),  # noqa: B008 (frozen)
        *,
        timeout: float = 10.0,
        command: Sequence[str] | None = None,
    ) -> None:
        """Remember how to sound.  The engine starts with `start` or the first `render`.

        Args:
            options: language, speaker, rate, volume.
            timeout: seconds after which a render counts as hung (longer for long texts).
            command: another worker process than ours, to force its faults.
        """
        self.options = options
        self.name = (
            f"{_versions()}, {options.language} {options.variant or 'plain'},"
            f" rate {options.rate}, volume {options.volume:g}"
        )
        """What decides how this voice sounds, with the versions of the engine's packages."""
        self._timeout = timeout
        # -P: this folder must not stand in front of the standard library on the worker's path.
        self._command = command or (sys.executable, "-P", str(pyttsx3_worker.__file__))
        self._worker: _Worker | None = None
        self._turn = threading.Lock()

    @property
    def pid(self) -> int | None:
        """Process id of the engine, None while it does not run."""
        worker = self._worker
        return worker.pid if worker else None

    def start(self) -> None:
        """Start the engine now rather than with the first render, and load what renders need.

        Raises:
            DeviceError: it does not start.
        """
        with self._turn:
            try:
                self._running()
            except _Fault as fault:
                raise DeviceError(f"The voice engine does not start: {fault}; {MEND}.") from None

    def render(self, text: str) -> Samples:
        """See `Voice.render`."""
        # Control characters would end the text early inside the engine; lone surrogates break it.
        clean = "".join(c if c.isprintable() else " " for c in text).strip()
        if not clean:
            return silence(0)
        with self._turn:
            return self._render(clean)

    def _render(self, text: str) -> Samples:
        limit = self._timeout + SECONDS_A_CHARACTER * len(text)
        fault = ""
        for _ in range(ATTEMPTS):
            try:
                return _rendered(self._running(), text, self.options, limit)
            except _Fault as one:
                fault = str(one)
                self._drop()
        raise DeviceError(f"The voice engine failed twice: {fault}; {MEND}.")

    def _running(self) -> _Worker:
        if self._worker is None:
            self._worker = _Worker(self._command)
            try:
                self._worker.ready()
            except _Fault:
                self._drop()
                raise
        return self._worker

    def _drop(self) -> None:
        if self._worker is not None:
            self._worker.end()
            self._worker = None

    def close(self) -> None:
        """End the engine's process.  A later render starts it again."""
        with self._turn:
            self._drop()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _versions() -> str:
    found = []
    for package in ("pyttsx3", "espeakng-loader"):
        try:
            found.append(f"{package} {metadata.version(package)}")
        except metadata.PackageNotFoundError:
            continue  # other platforms bring their own engine
    return ", ".join([*found, sys.platform])


class _Fault(Exception):
    """What went wrong with one attempt."""


def _rendered(worker: _Worker, text: str, options: VoiceOptions, limit: float) -> Samples:
    suffix = ".aiff" if sys.platform == "darwin" else ".wav"
    with tempfile.TemporaryDirectory(prefix="handsfree-voice-") as folder:
        file = Path(folder) / f"prompt{suffix}"
        answer = worker.ask({"text": text, "file": str(file), "limit": limit, **asdict(options)})
        if "unknown" in answer:
            raise InputError(
                f"the speech engine has no voice “{answer['unknown']}”;"
                " choose another language or variant."
            )
        if "fault" in answer:
            raise _Fault(answer["fault"])
        try:
            return _trimmed(read_sound(file))
        except InputError as error:
            raise _Fault("what it wrote is not sound") from error


def _trimmed(sound: Samples) -> Samples:
    """Without the silence that the engine puts before and after, but for a breath."""
    heard = np.flatnonzero(np.abs(sound.astype(np.int32)) > AUDIBLE)
    if not len(heard):
        return silence(0)
    breath = round(BREATH * SAMPLE_RATE)
    return sound[max(0, int(heard[0]) - breath) : int(heard[-1]) + 1 + breath]


class _Worker:
    """One engine process and the frames to and from it."""

    def __init__(self, command: Sequence[str]) -> None:
        try:
            self._process = subprocess.Popen(
                command, stdin=PIPE, stdout=PIPE, stderr=subprocess.DEVNULL
            )
        except OSError as error:
            raise _Fault(f"it does not start ({error.strerror})") from error
        self.pid = self._process.pid
        self._answers: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        # A thread, since no wait with a timeout works on pipes on every platform.
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        with self._process.stdout as stream:
            try:
                while (frame := read_frame(stream)) is not None:
                    self._answers.put(frame)
            except (OSError, ValueError):  # half a frame: it died while writing
                pass
        self._answers.put(None)

    def ready(self) -> None:
        """Wait until the engine is loaded."""
        if "fault" in (frame := self._next(START_TIMEOUT)):
            raise _Fault(frame["fault"])

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        """Send one request and wait for its answer, somewhat longer than the engine may take."""
        assert self._process.stdin is not None
        try:
            write_frame(self._process.stdin, request)
        except OSError as error:
            raise _Fault("its process ended") from error
        return self._next(request["limit"] + GRACE)

    def _next(self, limit: float) -> dict[str, Any]:
        try:
            frame = self._answers.get(timeout=limit)
        except queue.Empty:
            raise _Fault(f"no answer for {limit:.0f} seconds") from None
        if frame is None:
            raise _Fault("its process ended")
        return frame

    def end(self) -> None:
        """Kill the process and everything that it started."""
        self._process.kill()
        self._process.wait()
        try:
            assert self._process.stdin is not None
            self._process.stdin.close()
        except OSError:
            pass  # what was still unsent has nobody to read it
