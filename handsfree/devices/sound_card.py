"""The sound card: a microphone and a loudspeaker through PortAudio.

May import sounddevice and ALSA (late, in one function each), numpy, ``handsfree.audio`` and errors.  Where the
card does not do 16 kHz mono, its own rate and channels are used and converted here.
Callbacks run in PortAudio's thread: they copy and return, and never wait.
"""

from __future__ import annotations

import ctypes
import queue
import sys
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from types import TracebackType
from typing import Any, Self

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, silence
from handsfree.devices.resampling import Resampler
from handsfree.errors import DeviceError

_PATIENCE = 3.0
"""Seconds without a sample after which a microphone counts as gone."""

_LATENCY = 0.1
"""Seconds of sound that the card holds: enough for a busy small computer not to run dry."""

_EARLY, _LATE = 0.1, 0.06
"""Seconds by which a block that was given out may be younger or older than the microphone's block
that it is paired with: cards call for several at once.  Too young does no harm to an echo canceller.
"""

EASE = 0.2
"""Seconds of sound that are fetched at a time when there is no hurry."""

_HELD = 500
"""Blocks that wait to be read before sound is thrown away: 10 seconds of 20 ms."""


def _portaudio() -> Any:
    """The module sounddevice; DeviceError when it or PortAudio is missing."""
    try:
        import sounddevice
    except OSError as error:
        raise DeviceError(
            "the sound library PortAudio is missing; install it (on Debian: "
            "apt-get install libportaudio2), or use 'handsfree rehearse', which needs none."
        ) from error
    except ImportError as error:
        raise DeviceError(
            "the Python package sounddevice is missing; install it with pip."
        ) from error
    _quieten_alsa()
    return sounddevice


@cache
def _quieten_alsa() -> None:
    """Keep ALSA's own lines ("underrun occurred") off the terminal: what matters is told by us.

    Its handler of errors is replaced by a C function that does nothing and takes anything, so that no
    Python runs in the card's thread.  Elsewhere than on Linux there is nothing to do.
    """
    if not sys.platform.startswith("linux"):
        return
    with suppress(OSError, AttributeError):
        nothing = ctypes.cast(ctypes.CDLL(None).getpid, ctypes.c_void_p)
        ctypes.CDLL("libasound.so.2").snd_lib_error_set_handler(nothing)


def device_names(kind: str) -> list[str]:
    """Names of the devices that can be used for `kind`, "input" or "output".

    Raises DeviceError when PortAudio is missing.
    """
    found = _portaudio().query_devices()
    return [d["name"] for d in found if d[f"max_{kind}_channels"] > 0]


def look_again() -> None:
    """Look for devices anew: PortAudio knows those only that were there when it began.

    Every stream must be closed before.  Raises DeviceError when PortAudio is missing.
    """
    portaudio = _portaudio()
    portaudio._terminate()
    portaudio._initialize()


def _find(kind: str, device: str | None) -> tuple[int, dict[str, Any]]:
    """Number and description of the device; DeviceError names what there is."""
    portaudio = _portaudio()
    what = "microphone" if kind == "input" else "loudspeaker"
    wanted: str | int | None = int(device) if device and device.isdecimal() else device
    try:
        found = portaudio.query_devices(wanted, kind)
    except (ValueError, portaudio.PortAudioError) as error:
        names = device_names(kind)
        if not names:
            raise DeviceError(
                f"no {what} was found; plug one in and check that the system's sound settings "
                "show it."
            ) from error
        which = f"no {what} is called {device!r}" if device else f"there is no default {what}"
        raise DeviceError(f"{which}; choose one of: {', '.join(names)}.") from error
    return found["index"], found


def _open(
    kind: str,
    device: str | None,
    make: Callable[[Any, dict[str, Any]], Any],
) -> tuple[Any, int, int]:
    """A started stream with the rate and the channels that the device accepts.

    `make(sounddevice, settings)` gives the stream; it is tried with our own format first.
    """
    portaudio = _portaudio()
    number, about = _find(kind, device)
    native = int(about["default_samplerate"])
    problem: Exception | None = None
    for rate, channels in ((SAMPLE_RATE, 1), (SAMPLE_RATE, 2), (native, 1), (native, 2)):
        if channels > about[f"max_{kind}_channels"]:
            continue
        settings = {
            "device": number, "samplerate": rate, "channels": channels, "dtype": "int16",
            "latency": _LATENCY,
            "blocksize": round(rate * FRAME / SAMPLE_RATE),
        }
        try:
            stream = make(portaudio, settings)
            stream.start()
        except portaudio.PortAudioError as error:
            problem = error
        else:
            return stream, rate, channels
    raise DeviceError(
        f"the sound device {about['name']!r} cannot be used ({_reason(problem)}); close other "
        "programs that use it, or choose another one."
    ) from problem


def _reason(error: Exception | None) -> str:
    return str(error.args[0] if error and error.args else error).removesuffix(".")


class _Card:
    """What microphone and loudspeaker share: a stream that is closed at the end."""

    _stream: Any

    def close(self) -> None:
        """Give the device back; may be called twice."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


class SoundCardMicrophone(_Card):
    """A microphone: frames of 20 ms, in order, at 16 kHz.

    device: name or part of it, or number; None for the system's default.
    Raises DeviceError when it cannot be opened.
    """

    def __init__(self, device: str | None = None) -> None:
        self.overflowed = False
        self.at_ease = False
        """Sound may be fetched seldomer, some blocks at a time: less work for the processor."""
        self._blocks: queue.SimpleQueue[tuple[Samples, float] | None] = queue.SimpleQueue()
        self._rest: Samples = silence(0)
        self.came_at = 0.0
        """Monotonic time at which the end of the last frame came in."""
        self._stream, rate, self._channels = _open("input", device, self._make)
        self._resampler = Resampler(rate, SAMPLE_RATE)

    def _make(self, portaudio: Any, settings: dict[str, Any]) -> Any:
        channels = settings["channels"]

        def take(data: Any, _frames: int, _time: Any, status: Any) -> None:
            if status.input_overflow or self._blocks.qsize() > _HELD:
                self.overflowed = True
            if self._blocks.qsize() <= _HELD:
                self._blocks.put((np.frombuffer(bytes(data), np.int16)[::channels],
                                  time.monotonic()))

        return portaudio.RawInputStream(
            callback=take, finished_callback=lambda: self._blocks.put(None), **settings)

    def read(self) -> Samples:
        """The next frame; waits for it.  Raises DeviceError when no more sound comes."""
        pieces, have = [self._rest], len(self._rest)
        if self.at_ease and have < FRAME and self._blocks.empty():
            time.sleep(EASE)
        while have < FRAME:
            try:
                block = self._blocks.get(timeout=_PATIENCE)
            except queue.Empty:
                block = None
            if block is None:
                raise DeviceError(
                    "the microphone gives no more sound; plug it in again and go on with "
                    "'handsfree run --resume'.")
            sound, self.came_at = block
            pieces.append(self._resampler.feed(sound))
            have += len(pieces[-1])
        sound = np.concatenate(pieces)
        self._rest = sound[FRAME:]
        return sound[:FRAME]


class _Prompt:
    """Sound on its way out, and how far it has come; touched by one callback at a time."""

    def __init__(self, sound: Samples, rate: int = SAMPLE_RATE) -> None:
        # A little silence behind pushes the last of the sound through the filter.
        self.plain = sound
        """At our own rate."""
        self.sound = Resampler(SAMPLE_RATE, rate).feed(
            np.concatenate((sound, silence(0.01))) if len(sound) else sound)
        self.at = 0
        self.out_at = float("inf") if len(sound) else 0.0
        """Monotonic time at which its last sample leaves the card."""


class SoundCardSpeaker(_Card):
    """A loudspeaker that starts at once: its stream runs all the time, silent between prompts.

    device: as for the microphone.  Raises DeviceError when it cannot be opened.
    """

    def __init__(self, device: str | None = None) -> None:
        self.underflowed = False
        """True when the card ran dry since this was last set to False."""
        self._gone = False
        self._latency = 0.0
        self._prompt = _Prompt(silence(0))
        self._given: deque[tuple[float, Samples, int]] = deque(maxlen=_HELD)
        self._stream, self._rate, _ = _open("output", device, self._make)
        self._gone = False  # a format that was tried before may have ended its stream
        self._latency = float(self._stream.latency)

    def _make(self, portaudio: Any, settings: dict[str, Any]) -> Any:
        channels = settings["channels"]

        def give(data: Any, frames: int, _time: Any, status: Any) -> None:
            if status.output_underflow:
                self.underflowed = True
            prompt = self._prompt  # play and stop swap the whole object, so no lock is needed
            piece = prompt.sound[prompt.at : prompt.at + frames]
            block = np.zeros((frames, channels), dtype=np.int16)
            block[: len(piece)] = piece[:, np.newaxis]
            data[:] = block.tobytes()
            if len(piece):
                self._given.append((time.monotonic(), prompt.plain, round(
                    prompt.at * SAMPLE_RATE / settings["samplerate"])))
            prompt.at += len(piece)
            if len(piece) and prompt.at == len(prompt.sound):
                prompt.out_at = time.monotonic() + self._latency

        return portaudio.RawOutputStream(callback=give, finished_callback=self._end, **settings)

    def _end(self) -> None:
        self._gone = True

    @property
    def playing(self) -> bool:
        """True while something is in the air: also what the card itself still holds."""
        return not self._gone and time.monotonic() < self._prompt.out_at

    def play(self, samples: Samples) -> None:
        """Start to play and return at once; what was playing is cut off.

        Raises DeviceError when the device is gone.
        """
        self._check()
        self._prompt = _Prompt(samples, self._rate)

    def stop(self) -> None:
        """Fall silent now."""
        self._prompt = _Prompt(silence(0))

    def reference(self, at: float) -> Samples:
        """The frame that was given to the card about when the microphone's came in, at this
        monotonic time; each is given once, in order."""
        given = self._given
        while given and given[0][0] < at - _LATE:
            given.popleft()
        piece = silence(0)
        if given and given[0][0] <= at + _EARLY:
            _, sound, start = given.popleft()
            piece = sound[start : start + FRAME]
        return np.concatenate((piece, np.zeros(FRAME - len(piece), dtype=np.int16)))

    def wait(self) -> None:
        """Until all that was given to `play` is out.  Raises DeviceError when it cannot be."""
        while self.playing:
            time.sleep(0.01)
        self._check()

    def _check(self) -> None:
        if self._stream is None or self._gone or not self._stream.active:
            raise DeviceError(
                "the loudspeaker is gone; plug it in again and go on with "
                "'handsfree run --resume'.")
