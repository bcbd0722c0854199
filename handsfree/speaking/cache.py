"""Prompts that are ready before they are needed, so that each starts at once.

May import ``handsfree.audio``, ``handsfree.errors``, ``handsfree.sound.files`` and the port.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import threading
from collections import OrderedDict
from collections.abc import Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from types import TracebackType
from typing import Self

from handsfree.audio import Samples
from handsfree.errors import DeviceError, InputError, StorageError
from handsfree.sound.files import read_sound, write_mono
from handsfree.speaking.voice import Voice

MEMORY = 64 * 2**20
"""Bytes of samples kept in memory: half an hour of speech.  The longest unused go first."""

DISK = 128 * 2**20
"""Bytes kept in the folder.  The oldest files go when a cache is opened."""


class PromptCache:
    """Rendered prompts of one voice, in memory and in a folder.  Threads may share it.

    The folder is a convenience: what is damaged in it is rendered again, and when it cannot be
    written the cache goes on in memory.
    """

    def __init__(self, voice: Voice, folder: Path | None = None) -> None:
        """Open a cache.

        Args:
            voice: renders what is missing; its ``name`` is part of each key, so that another
                speaker, rate or engine version never answers for this one.
            folder: where prompts outlive the session; None for memory only.
        """
        self._voice = voice
        self._folder = folder
        self._ready: OrderedDict[str, Samples] = OrderedDict()
        self._bytes = 0
        self._guard = threading.Lock()  # over the two above
        self._rendering = threading.Lock()  # so that a prompt is never rendered twice at a time
        self._ahead = ThreadPoolExecutor(1, thread_name_prefix="prompts-ahead")
        self._closed = False
        if folder is not None:
            with contextlib.suppress(OSError):
                folder.mkdir(parents=True, exist_ok=True)
                _prune(folder)

    def get(self, text: str) -> Samples:
        """The prompt, read-only, shape ``(n,)``; rendered now if it is not ready yet.

        Raises:
            DeviceError, InputError: as `Voice.render`.
        """
        key = self._key(text)
        if (known := self._recall(key)) is not None:
            return known
        with self._rendering:
            known = self._recall(key)
            if known is None:
                known = self._from_disk(key)
                if known is None:
                    known = self._voice.render(text)
                    self._to_disk(key, known)
                known = self._keep(key, known)
            return known

    def ahead(self, texts: Iterable[str]) -> Future[int]:
        """Make prompts ready in the background, in this order, after those asked for before.

        Returns:
            A future that ends with how many of them are ready.  A voice that fails ends it early;
            the failure itself comes to whoever needs the prompt.
        """
        return self._ahead.submit(self._make_ready, tuple(texts))

    def _make_ready(self, texts: tuple[str, ...]) -> int:
        for count, text in enumerate(texts):
            if self._closed:
                return count
            try:
                self.get(text)
            except (DeviceError, InputError):
                return count
        return len(texts)

    def close(self) -> None:
        """Stop working ahead.  The voice stays open: it belongs to whoever made it."""
        self._closed = True
        self._ahead.shutdown(wait=True, cancel_futures=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _key(self, text: str) -> str:
        return hashlib.sha256(f"{self._voice.name}\n{text}".encode(errors="replace")).hexdigest()

    def _recall(self, key: str) -> Samples | None:
        with self._guard:
            known = self._ready.get(key)
            if known is not None:
                self._ready.move_to_end(key)
            return known

    def _keep(self, key: str, samples: Samples) -> Samples:
        # A copy that cannot be written, so that no listener changes what the next one hears.
        kept = samples.copy()
        kept.flags.writeable = False
        with self._guard:
            self._ready[key] = kept
            self._bytes += kept.nbytes
            while self._bytes > MEMORY and len(self._ready) > 1:
                self._bytes -= self._ready.popitem(last=False)[1].nbytes
        return kept

    def _from_disk(self, key: str) -> Samples | None:
        if self._folder is None:
            return None
        try:
            return read_sound(self._folder / f"{key}.wav")
        except InputError:
            return None

    def _to_disk(self, key: str, samples: Samples) -> None:
        if self._folder is None or not len(samples):
            return
        part = self._folder / f"{key}.{os.getpid()}.part"
        try:
            write_mono(part, samples)
            part.replace(self._folder / f"{key}.wav")  # so that nobody finds half a file
        except (StorageError, OSError):
            with contextlib.suppress(OSError):
                part.unlink()


def _prune(folder: Path) -> None:
    """Remove the oldest prompts beyond `DISK` bytes."""
    files = sorted(folder.glob("*.wav"), key=lambda file: file.stat().st_mtime, reverse=True)
    total = 0
    for file in files:
        total += file.stat().st_size
        if total > DISK:
            file.unlink(missing_ok=True)
