"""Journals whose lines are linked: what is removed, doubled, swapped or foreign is named."""

import json
import shutil
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.cli import main
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.opening import start_new
from handsfree.storage import journal
from handsfree.storage.record import latest, past_faults, rig_folder, session_paths
from handsfree.testing import talk

RIG = Rig("trailer")


def walk(folder: Path, small: Checklist, english: Language, turns: int = 1000,
         rig: Rig = RIG) -> Path:
    started = start_new(small, rig, folder, {})
    talk(small, english, Script(), started=started, turns=turns)
    started.log.close()
    return started.log.path


def lines_of(path: Path) -> list[bytes]:
    return path.read_bytes().splitlines(keepends=True)


def holding(path: Path, word: bytes) -> int:
    return next(place for place, line in enumerate(lines_of(path)) if word in line)


def doubled(lines: list[bytes], at: int) -> list[bytes]:
    return [*lines[:at + 1], lines[at], *lines[at + 1:]]


def removed(lines: list[bytes], at: int) -> list[bytes]:
    return [*lines[:at], *lines[at + 1:]]


def swapped(lines: list[bytes], at: int) -> list[bytes]:
    return [*lines[:at], lines[at + 1], lines[at], *lines[at + 2:]]


def foreign(lines: list[bytes], at: int) -> list[bytes]:
    other = json.loads(lines[at])
    other.pop("sum")
    body = json.dumps(other | {"t": 99.0}).encode()[:-1]
    return [*lines[:at], body + b', "sum": "%s"}\n' % journal.link(body).encode(), *lines[at + 1:]]


@pytest.mark.parametrize(("change", "kind", "off"), [
    (doubled, "doubled", 1), (removed, "missing", 0), (swapped, "missing", 0),
    (foreign, "foreign", 1)])
def test_a_line_that_does_not_follow_the_one_before_is_named_and_nothing_counts_as_settled(
    tmp_path: Path, small: Checklist, english: Language,
    change: Callable[[list[bytes], int], list[bytes]], kind: str, off: int,
) -> None:
    path = walk(tmp_path, small, english, turns=6)
    good = latest(tmp_path)
    assert good and not good.faults and "chocked" in good.settled and not good.ended
    at = holding(path, b'"Confirm"')
    path.write_bytes(b"".join(change(lines_of(path), at)))
    found = latest(tmp_path)
    assert found and found.faults and not found.settled and found.ended
    first = found.faults[0]
    assert first.file == path.name and first.what == kind
    assert at + 1 <= first.line <= at + 2 and str(first.line) in str(first)


def test_a_last_line_that_is_gone_is_missed(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    path = walk(tmp_path, small, english, turns=6)
    path.write_bytes(b"".join(lines_of(path)[:-1]))
    found = latest(tmp_path)
    assert found and [fault.what for fault in found.faults] == ["short"] and not found.settled


def test_a_file_that_is_doubled_gone_or_of_another_rig_is_named(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = tmp_path / "rig"
    first, second = walk(folder, small, english), walk(folder, small, english)
    third = first.with_name("000003-small.jsonl")
    shutil.copyfile(first, third)
    found = latest(folder)
    assert found and found.faults[0].what == "copied" and not found.settled
    third.unlink()
    assert not latest(folder).faults  # type: ignore[union-attr]
    kept = second.read_bytes()
    second.unlink()
    found = latest(folder)
    assert found and [fault.what for fault in found.faults] == ["gone"] and not found.settled
    other = walk(tmp_path / "other", small, english, rig=Rig("Lent trailer"))
    walk(tmp_path / "other", small, english, rig=Rig("Lent trailer"))
    second.write_bytes((other.parent / "000002-small.jsonl").read_bytes())
    assert latest(folder).faults, "it does not reach as the seal says"  # type: ignore
    found = latest(folder, "Trailer")
    assert found and "rig" in {fault.what for fault in found.faults} and not found.settled
    second.write_bytes(kept)
    assert not latest(folder).faults  # type: ignore[union-attr]
    first.unlink()
    assert not latest(folder).faults, "what counts now stands in the last one"  # type: ignore
    assert [fault.what for fault in past_faults(folder)] == ["gone before"]


def test_a_journal_of_an_earlier_version_is_read_as_before_and_gone_on_from(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    path = walk(tmp_path, small, english)
    facts = latest(tmp_path).facts  # type: ignore[union-attr]
    old = []
    for line in lines_of(path):
        data = json.loads(line)
        for key in ("sum", "before", "journal", "settled", "traits"):
            data.pop(key, None)
        body = json.dumps(data).encode()[:-1]
        old.append(body + b', "sum": "%08x"}\n' % zlib.crc32(body))
    path.write_bytes(b"".join(old))
    (tmp_path / "seal").unlink()
    found = latest(tmp_path)
    assert found and found.facts == facts and not found.faults and not found.linked
    assert "chocked" in found.settled
    path.write_bytes(b"".join(removed(old, holding(path, b'"Confirm"'))))
    assert latest(tmp_path).faults[0].what == "missing"  # type: ignore[union-attr]
    path.write_bytes(b"".join(old))
    new = walk(tmp_path, small, english)
    assert not latest(tmp_path).faults and latest(tmp_path).linked  # type: ignore[union-attr]
    path.write_bytes(b"".join(old[:-1]))
    assert [fault.file for fault in past_faults(tmp_path)] == [new.name]


def test_a_record_without_its_seal_is_not_believed(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    walk(tmp_path, small, english)
    seal = tmp_path / "seal"
    raw = seal.read_bytes()
    half = len(raw) // 2
    seal.write_bytes(raw[:half] + b"\0" * half)
    assert not latest(tmp_path).faults, "one of its two halves is enough"  # type: ignore
    seal.unlink()
    found = latest(tmp_path)
    assert found and found.faults[0].what == "no seal" and not found.settled


def test_every_journal_of_one_stay_follows_the_one_before(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    for _ in range(3):
        walk(tmp_path, small, english)
    paths = session_paths(tmp_path)
    for before, path in zip(paths, paths[1:], strict=False):
        begun = json.loads(lines_of(path)[0])
        assert begun["journal"] == path.stem
        assert begun["before"] == journal.link(lines_of(before)[-1].rstrip(b"\n"))
    assert past_faults(tmp_path) == ()


@pytest.mark.parametrize(("one", "other"), [
    ("Прицеп", "가나다"), ("Süd", "S-d"), ("a b", "a-b"), ("Trailer.", "Trailer"),
    ("", "rig"), ("...", "!!!"), ("x" * 300, "x" * 301)])
def test_two_names_are_two_records(tmp_path: Path, one: str, other: str) -> None:
    assert rig_folder(tmp_path, one) != rig_folder(tmp_path, other)
    assert max(len(rig_folder(tmp_path, name).name) for name in (one, other)) < 100


def test_one_name_in_other_capitals_blanks_or_accents_composed_is_one_record(
    tmp_path: Path
) -> None:
    for one, other in (("My Trailer", "my  trailer "), ("Süd", "Su\u0308d")):
        assert rig_folder(tmp_path, one) == rig_folder(tmp_path, other)


def test_a_record_in_a_folder_of_an_earlier_version_stays_its_rigs(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    old = tmp_path / "rigs" / "s-d"
    walk(old, small, english, rig=Rig("Süd"))
    assert rig_folder(tmp_path, "Süd") == old
    assert rig_folder(tmp_path, "S-d") not in (old, rig_folder(tmp_path, "Süd"))


def test_what_the_owner_has_deleted_is_not_missed(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = rig_folder(tmp_path, "trailer")
    for _ in range(3):
        walk(folder, small, english)

    def forget(*words: str) -> None:
        done = CliRunner(env={"HANDSFREE_DATA": str(tmp_path)}).invoke(
            main, ["forget", *words, "--yes"])
        assert done.exit_code == 0, done.output

    forget("--before", "2100-01-01")
    assert [path.name for path in session_paths(folder)] == ["000003-small.jsonl"]
    assert past_faults(folder) == () and not latest(folder).faults  # type: ignore[union-attr]
    session_paths(folder)[0].unlink()
    assert latest(folder).faults[0].what == "gone"  # type: ignore[union-attr]
    forget("--all")
    assert latest(folder) is None, "and the next checklist is the first one"
