"""A journal in order is read on a short way; what comes of it is what the long way finds."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from handsfree.engine.state import Done
from handsfree.storage import journal, lines
from handsfree.storage.journal import Journal


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    path = tmp_path / "000001-arrive.jsonl"
    log = Journal(path)
    log.write(lines.Begun("arrive", "Arrive", "d", "en", frozenset(), (), session="s"), 0.0)
    for n in range(12):
        log.write(lines.Event(Done(), f"s{n}", then=(
            lines.Reported(f"s{n}", "report"), lines.Changed(frozenset({"a"}), frozenset()))), float(n))
        log.write(lines.Heard("größer ✓", 1.0, "accepted", begin=n, end=n + 0.5), n + 0.5)
    log.close()
    return path


def long_way(path: Path) -> journal.Read:
    raw = path.read_bytes()
    *complete, rest = raw.split(b"\n")
    return journal._line_by_line(path, raw, complete, rest)


def test_both_ways_read_a_sound_journal_alike(sound: Path) -> None:
    *complete, rest = sound.read_bytes().split(b"\n")
    short = journal._in_order(complete, rest)
    assert short is not None and len(short.lines) == 1 + 12 * 4
    assert short == long_way(sound) == journal.read(sound)


def test_whatever_is_wrong_is_found_as_on_the_long_way(sound: Path) -> None:
    """Each way of being damaged, at 300 places: a byte changed, removed, doubled; lines removed,
    doubled, swapped; an end cut off."""
    raw, found = sound.read_bytes(), 0
    rng = random.Random(7)
    for _ in range(300):
        at, whole = rng.randrange(len(raw)), raw.splitlines(keepends=True)
        line, other = rng.randrange(len(whole)), rng.randrange(len(whole))
        swapped = [*whole]
        swapped[line], swapped[other] = whole[other], whole[line]
        damaged = rng.choice([
            raw[:at] + bytes([raw[at] ^ 1 << rng.randrange(8)]) + raw[at + 1:],
            raw[:at] + raw[at + 1:], raw[:at] + raw[at:at + 1] + raw[at:], raw[:at],
            b"".join(whole[:line] + whole[line + 1:]), b"".join(whole[:line] + whole[line:line + 1]
                                                                + whole[line:]),
            b"".join(swapped)])
        sound.write_bytes(damaged)
        read = journal.read(sound)
        assert read == long_way(sound)
        found += bool(read.faults or read.torn)
    assert found > 250, "hardly any of it was damage"
