"""Devices and engines that may fail in the middle of a session, which goes on without them.

May import the ports of devices, hearing and the loop, fault reports, audio and errors.  Each stands in
front of the real part: a failure becomes trouble, told once, and the part is opened anew (perhaps
another device) until it works.  Meanwhile there are the screen, tones and the keyboard.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from typing import Protocol, TypeVar

from handsfree.audio import FRAME, SAMPLE_RATE, Samples, seconds, silence
from handsfree.errors import DeviceError, HandsfreeError
from handsfree.hearing.early_finalisation import PartialResults
from handsfree.hearing.types import (
    Dictates,
    Glances,
    Grammar,
    Heard,
    HearsPauses,
    Hypothesis,
    Recogniser,
    Rejection,
    Span,
)
from handsfree.session.fault_reports import FaultReports

VOICE_LIMIT = 6.0
"""Seconds that a prompt may take to be rendered; then its tone and the screen have to do."""

DEAD_SILENCE = 15.0
"""Seconds of nothing but zeros after which a microphone counts as muted: rooms are not silent.  Twice
as long after each time that it was: some headsets give zeros while nobody speaks."""

_T = TypeVar("_T")


class _Input(Protocol):
    overflowed: bool

    def read(self) -> Samples: ...

    def close(self) -> None: ...


class _Output(Protocol):
    @property
    def playing(self) -> bool: ...

    def play(self, samples: Samples) -> None: ...

    def stop(self) -> None: ...

    def close(self) -> None: ...


class _Sounds(Protocol):
    def get(self, text: str) -> Samples: ...

    def ahead(self, texts: Iterable[str]) -> object: ...

    def tone(self, kind: str) -> Samples: ...


class FailoverMicrophone:
    """A `Microphone` that gives silence while there is none."""

    def __init__(
        self,
        opened: Callable[[], _Input],
        troubles: FaultReports,
        *,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        """Open it; a microphone that is missing from the start is trouble, no error."""
        self._opened = opened
        self._troubles = troubles
        self._sleep = sleep
        self._inner: _Input | None = None
        self._silent = 0.0
        self._patience = DEAD_SILENCE
        self.overflowed = self.at_ease = False
        """See `SoundCardMicrophone`."""
        self.came_at = 0.0
        """See `SoundCardMicrophone.came_at`."""
        try:
            self._open()
        except DeviceError:
            self._lost()

    @property
    def there(self) -> bool:
        """Whether it works, as far as is known."""
        return self._inner is not None

    def read(self) -> Samples:
        """The next frame."""
        if self._inner is not None:
            try:
                if hasattr(self._inner, "at_ease"):
                    self._inner.at_ease = self.at_ease
                frame = self._inner.read()
            except DeviceError:
                self._lost()
            else:
                self._check(frame)
                self.came_at = getattr(self._inner, "came_at", 0.0)
                return frame
        self._sleep(FRAME / SAMPLE_RATE)
        return silence(FRAME / SAMPLE_RATE)

    def _check(self, frame: Samples) -> None:
        assert self._inner is not None
        if self._inner.overflowed:
            self.overflowed, self._inner.overflowed = True, False
        if frame.any():
            if self._silent > self._patience:
                self._troubles.over("microphone")
                self._patience *= 2
            self._silent = 0.0
        else:
            before, self._silent = self._silent, self._silent + seconds(frame)
            if before <= self._patience < self._silent:
                self._troubles.report("microphone", "muted", self._anew)

    def _lost(self) -> None:
        self.close()
        self._silent = 0.0
        self._troubles.report("microphone", "unplugged", self._open, instead=True)

    def _anew(self) -> None:
        """Silent as it is, the system may have moved it; whether that helped, its sound will tell."""
        self.close()
        self._open()
        raise DeviceError("the microphone gives nothing but silence; see whether it is muted.")

    def _open(self) -> None:
        self._inner = self._opened()

    def close(self) -> None:
        """Give the device back."""
        inner, self._inner = self._inner, None
        if inner is not None:
            inner.close()


class FailoverSpeaker:
    """A `Speaker` that is silent while there is none."""

    def __init__(self, opened: Callable[[], _Output], troubles: FaultReports) -> None:
        """Open it; a loudspeaker that is missing from the start is trouble, no error."""
        self._opened = opened
        self._troubles = troubles
        self._resting = False
        self._inner: _Output | None = None
        try:
            self._open()
        except DeviceError:
            self._lost()

    @property
    def playing(self) -> bool:
        """True while something is in the air."""
        return self._inner is not None and self._inner.playing

    @property
    def resting(self) -> bool:
        """Whether the device was given back until something is played."""
        return self._resting

    def rest(self) -> None:
        """Give the device back until something is played: an idle stream costs power."""
        if self._inner is not None and not self._inner.playing:
            self.close()
            self._resting = True

    def play(self, samples: Samples) -> None:
        """Start to play and return at once."""
        if self._resting:
            self.renew()
        if self._inner is not None:
            try:
                self._inner.play(samples)
            except DeviceError:
                self._lost()

    def stop(self) -> None:
        """Fall silent now."""
        if self._inner is not None:
            self._inner.stop()

    def reference(self, at: float) -> Samples:
        """See `SoundCardSpeaker.reference`."""
        told = getattr(self._inner, "reference", None)
        return told(at) if told else silence(FRAME / SAMPLE_RATE)

    def renew(self) -> None:
        """Open it again after `close`."""
        self._resting = False
        if "speaker" in self._troubles:
            return  # which opens it when it can
        try:
            self._open()
        except DeviceError:
            self._lost()

    def _lost(self) -> None:
        self.close()
        self._troubles.report("speaker", "unplugged", self._open)

    def _open(self) -> None:
        self._inner = self._opened()

    def close(self) -> None:
        """Give the device back."""
        inner, self._inner = self._inner, None
        if inner is not None:
            inner.close()


class FailoverSounds:
    """`Sounds` whose voice may hang or crash: a tone calls the operator to the screen then."""

    def __init__(self, inner: _Sounds, troubles: FaultReports, *, limit: float = VOICE_LIMIT) -> None:
        self._inner = inner
        self._troubles = troubles
        self._limit = limit
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="prompts")
        self._probe: Future[Samples] | None = None

    def get(self, text: str) -> Samples:
        """The prompt, or a tone for it."""
        if "voice" not in self._troubles:
            job = self._pool.submit(self._inner.get, text)
            try:
                return job.result(self._limit)
            except Exception as problem:  # noqa: BLE001  whatever it is, the session must go on
                self._probe = None if job.done() else job
                self._troubles.report("voice", type(problem).__name__, lambda: self._mended(text))
        return self.tone("attention")

    def _mended(self, text: str) -> None:
        if self._probe is None:
            self._probe = self._pool.submit(self._inner.get, text)
        if not self._probe.done():
            raise DeviceError("the voice engine has not answered yet; wait.")
        probe, self._probe = self._probe, None
        try:
            probe.result()
        except HandsfreeError:
            raise
        except Exception as problem:
            raise DeviceError(f"the voice engine failed ({problem}); wait.") from problem

    def ahead(self, texts: Iterable[str]) -> None:
        """Ready in the background, while the voice works."""
        if "voice" not in self._troubles:
            self._inner.ahead(texts)

    def tone(self, kind: str) -> Samples:
        """A tone needs no voice."""
        return self._inner.tone(kind)

    def close(self) -> None:
        """Ask for nothing more."""
        self._pool.shutdown(wait=False, cancel_futures=True)


class FailoverRecogniser:
    """A `Recogniser` that understands nothing while its engine is out of order."""

    def __init__(
        self, inner: Recogniser, opened: Callable[[], Recogniser], troubles: FaultReports
    ) -> None:
        """`opened` gives a fresh engine after a failure."""
        self.name = inner.name
        self._inner: Recogniser | None = inner
        self._opened = opened
        self._troubles = troubles
        self._grammar: Grammar | None = None
        self._begun = False

    def expect(self, grammar: Grammar) -> None:
        """See `Recogniser.expect`."""
        self._grammar = grammar
        self._guarded(lambda inner: inner.expect(grammar))

    def begin(self) -> None:
        """See `Recogniser.begin`."""
        self._begun = self._inner is not None
        self._guarded(lambda inner: inner.begin())

    def feed(self, samples: Samples) -> Hypothesis | None:
        """See `Recogniser.feed`."""
        return self._guarded(lambda inner: inner.feed(samples)) if self._begun else None

    def prepare(self) -> None:
        """See `PartialResults`."""
        if self._begun and isinstance(self._inner, PartialResults):
            inner = self._inner
            self._guarded(lambda _: inner.prepare())

    def partial_result(self) -> Heard | None:
        """See `PartialResults`; None where the engine cannot tell."""
        if not self._begun or not isinstance(self._inner, PartialResults):
            return None
        inner = self._inner
        return self._guarded(lambda _: inner.partial_result())

    def speech_span(self) -> Span | None:
        """See `HearsPauses`; None where the engine cannot tell."""
        if not isinstance(self._inner, HearsPauses):
            return None
        inner = self._inner
        return self._guarded(lambda _: inner.speech_span())

    def finish(self) -> Heard:
        """See `Recogniser.finish`; what was said while it was out of order is unclear."""
        heard = self._guarded(lambda inner: inner.finish()) if self._begun else None
        return heard or Rejection("unclear", 0.0, 0.0)

    def dictate(self, samples: Samples) -> str:
        """See `Dictates`; '' where the engine cannot."""
        if not isinstance(self._inner, Dictates):
            return ""
        inner = self._inner
        return self._guarded(lambda _: inner.dictate(samples)) or ""

    def fits(self, samples: Samples) -> float:
        """See `Glances`; 0 where the engine cannot tell, so that everything is heard."""
        if not isinstance(self._inner, Glances):
            return 0.0
        inner = self._inner
        fit = self._guarded(lambda _: inner.fits(samples))
        return 0.0 if fit is None else fit

    def _guarded(self, call: Callable[[Recogniser], _T]) -> _T | None:
        if self._inner is None:
            return None
        try:
            return call(self._inner)
        except Exception as problem:  # noqa: BLE001  whatever it is, the session must go on
            broken, self._inner, self._begun = self._inner, None, False
            with suppress(Exception):
                broken.close()
            self._troubles.report("recogniser", type(problem).__name__, self._open)
            return None

    def _open(self) -> None:
        try:
            fresh = self._opened()
            if self._grammar is not None:
                fresh.expect(self._grammar)
        except HandsfreeError:
            raise
        except Exception as problem:
            raise DeviceError(f"speech recognition does not start ({problem}); wait.") from problem
        self._inner, self._begun = fresh, False

    def close(self) -> None:
        """Give back what the engine holds."""
        if self._inner is not None:
            self._inner.close()
