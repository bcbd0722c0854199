"""Kills sessions at chosen and at random moments, resumes them, and compares what is on record.

May import the session room, the checklist loader and language.  Each life of a session is a forked
process with the real lock, journal, record and conversation; the operator lives on in the parent,
as a person does when the power goes.  Besides SIGKILL, the loss of what was not yet synced is
played: the journal is cut at a random place behind its last fsync.
"""

from __future__ import annotations

import json
import mmap
import os
import random
import select
import signal
import struct
import sys
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import GoTo, Resume
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.opening import go_on, start_new
from handsfree.session.wording import Prompt
from handsfree.storage import journal
from handsfree.storage.lines import (
    Changed,
    Closed,
    Event,
    Failed,
    Reading,
    Reported,
    Skipped,
)
from handsfree.storage.lines import Line as JournalLine
from handsfree.storage.record import latest, lock, session_paths, summary

KINDS = ("any moment", "in the middle of a line", "between write and fsync",
         "between fsync and prompt")

CONFIRMING = {"done": "report", "done hold": "report", "done reading": "report",
              "answered yes": "yes", "answered no": "no", "gives up": "give up",
              "taken back": "take back", "taken back plain": "take back"}
"""Prompts that tell the operator that a report is on record, and the kind it is there under."""

MEAN_SECONDS = 0.05
"""Of a life that ends at any moment."""

MEAN_CALLS = 40_000
"""Calls of functions in such a life, where it is not the clock that ends it."""

LONGEST_LIFE = 60.0
"""Seconds without a word after which a process has hung."""


@dataclass(frozen=True)
class Doom:
    """How a life ends: which kind, at which of its writes or syncs, how much of a line is out."""

    kind: str
    at: int = 0
    share: float = 0.0
    life: float = 1.0
    """How long it is at any moment, as a multiple of the mean."""


@dataclass
class Findings:
    """What a series of lives came to."""

    kills: Counter[str] = field(default_factory=Counter)
    cut: int = 0
    """How often what was not synced was lost besides."""
    torn: int = 0
    """How often a torn line was set aside and said."""
    conversations: int = 0
    confirmed: int = 0
    """Reports whose confirmation the operator has heard."""
    wrong: list[str] = field(default_factory=list)
    """What was lost, happened twice, or differs from the run that was not killed."""


class SteadfastOperator(Operator):
    """Remembers across a power loss what was said and what was answered to it."""

    def __init__(self, script: Script, checklist: Checklist, language: Language) -> None:
        super().__init__(script, checklist, language)
        self._said_at = ""
        self._lost: dict[str, str] = {}

    def hear(self, prompt: Prompt) -> None:
        """A step whose answer was lost with the power is answered the same again, once offered."""
        super().hear(prompt)
        if prompt.key == "offer":
            self._said_at = ""
            self._redo = self._lost.pop(prompt.about, self._redo)

    def answer(self) -> str:
        """See `Operator.answer`."""
        words = super().answer()
        if self.works:
            self._said_at = self._at
        return words

    def restarted(self, counted: bool) -> None:
        """The program died and is there again; nothing that it asked before counts.

        Args:
            counted: what was said last to a step has come on record.
        """
        if self._redo:
            self._lost[self._at] = self._redo
        elif self._said_at and not counted:
            self._lost[self._said_at] = self._meant
        self._said_at = self._redo = self._next = ""


class Line:
    """A rig's record and the lives that write it."""

    def __init__(
        self, data: Path, rig: Rig, language: Language, seed: int = 1, *,
        kinds: Sequence[str] = KINDS, by_the_clock: bool = True,
    ) -> None:
        """For `kinds` and `by_the_clock` see `faults.power_losses`."""
        self.folder = data
        self._kinds, self._by_the_clock = kinds, by_the_clock
        self.found = Findings()
        self._rig = rig
        self._language = language
        self._random = random.Random(seed)
        self._mark = mmap.mmap(-1, 8)
        self._heard: Counter[tuple[str, str]] = Counter()
        self._breaks: tuple[int, ...] = ()
        self._size = 0  # of the journal, when the operator last said something to a step

    def walk(
        self, checklist: Checklist, script: Script, kills: int, breaks: Sequence[int] = ()
    ) -> tuple[list[Any], list[int]]:
        """One conversation to its end, killed up to so many times.

        Args:
            breaks: after so many things on record the operator takes a break: what was looked at
                before does not count any more, as after a power loss.

        Returns:
            What is on record of it, and after how many things it had to be gone on with.
        """
        self._breaks = tuple(breaks)
        before = latest(self.folder)
        old = {path.name for path in session_paths(self.folder)}
        operator = SteadfastOperator(script, checklist, self._language)
        self._heard.clear()
        self.synced(0)
        while True:
            doom = self._doom() if kills > 0 else None
            over = self._life(checklist, operator, doom, old)
            if over:
                break
            kills -= 1
            operator.restarted(self._counted(old))
        self.found.conversations += 1
        return self._told(checklist, before.path if before else None)

    def _doom(self) -> Doom:
        return Doom(self._random.choice(self._kinds), at=self._random.randint(1, 25),
                    share=self._random.random(), life=self._random.expovariate(1))

    # --- one life --------------------------------------------------------------------------

    def _life(
        self, checklist: Checklist, operator: SteadfastOperator, doom: Doom | None, old: set[str]
    ) -> bool:
        """True when the conversation has come to its end, False when it was killed."""
        prompts_in, prompts_out = os.pipe()
        words_in, words_out = os.pipe()
        pid = os.fork()
        if not pid:
            os.close(prompts_in)
            os.close(words_out)
            self._be(checklist, words_in, prompts_out, doom, old)
        os.close(prompts_out)
        os.close(words_in)
        try:
            over = self._listen(pid, prompts_in, words_out, operator, doom)
        finally:
            os.close(prompts_in)
            os.close(words_out)
            _, status = os.waitpid(pid, 0)
        if os.WIFSIGNALED(status):
            assert doom is not None
            self.found.kills[doom.kind] += 1
            self._lose_power(old)
            return False
        if not over or os.WEXITSTATUS(status):
            raise RuntimeError(f"a session ended with status {status} in {checklist.id}")
        return True

    def _listen(
        self, pid: int, prompts_in: int, words_out: int, operator: SteadfastOperator,
        doom: Doom | None,
    ) -> bool:
        timed = self._by_the_clock and doom is not None and doom.kind == KINDS[0]
        until = time.monotonic() + (
            doom.life * MEAN_SECONDS if doom and timed else LONGEST_LIFE)
        got = b""
        while True:
            ready, _, _ = select.select([prompts_in], [], [], max(0, until - time.monotonic()))
            if not ready:
                os.kill(pid, signal.SIGKILL)
                if not timed:
                    raise RuntimeError("a session hangs")
                until += LONGEST_LIFE  # read what it had still said
                timed = False
                continue
            piece = os.read(prompts_in, 65536)
            if not piece:
                return False
            got += piece
            while b"\n" in got:
                message, got = got.split(b"\n", 1)
                said = json.loads(message)
                if "error" in said:
                    raise RuntimeError(said["error"])
                self._hear(operator, said)
                if not timed:
                    until = time.monotonic() + LONGEST_LIFE
                if said["over"]:
                    return True
                words = operator.answer()
                if operator.works:
                    self._size = _size(self.folder)
                if operator.baffled or not words:
                    raise RuntimeError(f"no answer to {said}")
                try:
                    os.write(words_out, words.encode() + b"\n")
                except BrokenPipeError:
                    pass  # it has died; the words are lost in the air

    def _hear(self, operator: SteadfastOperator, said: Mapping[str, Any]) -> None:
        for values in said["prompts"]:
            if values is None:  # a break
                operator.restarted(counted=True)  # it comes right after what is on record
                continue
            prompt = Prompt(**values)
            operator.hear(prompt)
            if prompt.key in CONFIRMING:
                self._heard[prompt.about, CONFIRMING[prompt.key]] += 1
                self.found.confirmed += 1
            self.found.torn += prompt.key == "torn"

    def _be(
        self, checklist: Checklist, words_in: int, prompts_out: int, doom: Doom | None,
        old: set[str],
    ) -> None:
        """The child: a session in words, to its end or its doom."""
        status = 1
        try:
            journal.os = _DoomedOs(doom, self)  # type: ignore[assignment, attr-defined]
            if doom and doom.kind == KINDS[0] and not self._by_the_clock:
                _die_after(round(doom.life * MEAN_CALLS))
            with lock(self.folder), os.fdopen(words_in) as words:
                for said in self._session(checklist, words, old):
                    os.write(prompts_out, json.dumps(said).encode() + b"\n")
            status = 0
        except BaseException as problem:  # noqa: BLE001  nothing may go on in this copy of the parent
            os.write(prompts_out, json.dumps({"error": repr(problem)}).encode() + b"\n")
        finally:
            os._exit(status)

    def _session(
        self, checklist: Checklist, words: Iterator[str], old: set[str]
    ) -> Iterator[dict[str, Any]]:
        last = latest(self.folder)
        if last and last.path.name not in old:  # ours
            if last.ended:
                yield {"prompts": [], "over": True}
                return
            started = go_on(checklist, self.folder)
            self.synced(last.path.stat().st_size)
        else:
            self.synced(0)
            started = start_new(checklist, self._rig, self.folder, {"rehearsal": True})
        conversation = Conversation(checklist, self._language, started.log)
        prompts = started.begin(conversation, 0.0, started.log)
        t = 0.0
        breaks = list(self._breaks)
        while True:
            said: list[Any] = [vars(prompt) for prompt in prompts]
            while breaks and not conversation.over and (
                    len(tale(journal.read(started.log.path).lines)) >= breaks[0]):
                breaks.pop(0)
                said += [None, *(vars(prompt) for prompt in conversation.resume(t))]
            yield {"prompts": said, "over": conversation.over}
            if conversation.over:
                started.log.close()
                return
            t += 1.0
            prompts = conversation.hear(Hypothesis(next(words).strip(), 1.0, t, t), t)

    # --- power -----------------------------------------------------------------------------

    def synced(self, size: int) -> None:
        """So many bytes of the journal cannot be lost any more; told across processes."""
        self._mark[:] = struct.pack("q", size)

    def _lose_power(self, old: set[str]) -> None:
        """Cut the journal at a random place behind its last fsync, now and then."""
        path = session_paths(self.folder)[-1:]
        if not path or path[0].name in old or self._random.random() < 0.5:
            return
        safe, size = struct.unpack("q", self._mark[:])[0], path[0].stat().st_size
        if size > safe:
            os.truncate(path[0], self._random.randint(safe, size))
            self.found.cut += 1

    def _counted(self, old: set[str]) -> bool:
        """Whether what the operator last said to a step is on record, as a report or a move."""
        paths = [path for path in session_paths(self.folder)[-1:] if path.name not in old]
        if not paths:
            return False
        before = self.folder / "before"
        before.write_bytes(paths[0].read_bytes()[:self._size])
        told, then = (
            [line for line in read if isinstance(line, (Reported, Skipped, Reading))
             or isinstance(line, Event) and isinstance(line.event, GoTo)]
            for read in (journal.read(path).lines for path in (paths[0], before)))
        return len(told) > len(then)

    # --- findings --------------------------------------------------------------------------

    def _told(self, checklist: Checklist, before: Path | None) -> tuple[list[Any], list[int]]:
        paths = session_paths(self.folder)
        mine = paths[paths.index(before) + 1:] if before else paths
        begun = [path for path in mine if summary(path)]
        if len(begun) != 1:
            self.found.wrong.append(f"{checklist.id}: {len(begun)} sessions instead of one")
        lines = journal.read(begun[-1]).lines
        on_record = Counter((line.step, line.of) for line in lines if isinstance(line, Reported))
        for (step, kind), times in (self._heard - on_record).items():
            self.found.wrong.append(f"{checklist.id}: {kind} of {step} lost ({times})")
        return tale(lines), [
            len(tale(lines[:place])) for place, line in enumerate(lines)
            if isinstance(line, Event) and isinstance(line.event, Resume) and line.t == 0]


def _size(folder: Path) -> int:
    paths = session_paths(folder)
    return paths[-1].stat().st_size if paths else 0


def _die_after(calls: int) -> None:
    """Kill this process once so many functions, Python's and C's, were called or came back."""
    left = calls

    def count(*_: object) -> None:
        nonlocal left
        left -= 1
        if left <= 0:
            os.kill(os.getpid(), signal.SIGKILL)

    sys.setprofile(count)


class _DoomedOs:
    """The module `os` as the journal sees it, in a process that is about to die."""

    def __init__(self, doom: Doom | None, line: Line) -> None:
        self._doom = doom or Doom("")
        self._line = line
        self._writes = self._syncs = 0
        self._journal = -1

    def __getattr__(self, name: str) -> Any:
        return getattr(os, name)

    def open(self, path: Path, flags: int, mode: int = 0o777) -> int:
        file = os.open(path, flags, mode)
        if str(path).endswith(".jsonl"):
            self._journal = file
        return file

    def write(self, file: int, raw: bytes) -> int:
        self._writes += 1
        now = self._writes == self._doom.at
        if now and self._doom.kind == KINDS[1]:
            os.write(file, raw[:int(self._doom.share * len(raw))])
            os.kill(os.getpid(), signal.SIGKILL)
        count = os.write(file, raw)
        if now and self._doom.kind == KINDS[2]:
            os.kill(os.getpid(), signal.SIGKILL)
        return count

    def fsync(self, file: int) -> None:
        os.fsync(file)
        if file == self._journal:
            self._line.synced(os.fstat(file).st_size)
        self._syncs += 1
        if self._syncs == self._doom.at and self._doom.kind == KINDS[3]:
            os.kill(os.getpid(), signal.SIGKILL)


def tale(lines: Sequence[JournalLine]) -> list[JournalLine]:
    """What happened, in order, without when and how often it was asked."""
    timeless = (replace(line, n=0, at="", t=0.0) for line in lines
                if isinstance(line, (Changed, Reported, Skipped, Reading, Failed, Closed)))
    return [replace(line, tries=None) if isinstance(line, Failed) else line for line in timeless]
