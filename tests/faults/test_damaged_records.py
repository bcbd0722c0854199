"""Records damaged at random: each is named by file, none is believed; the bench has more."""

import random
from pathlib import Path

import pytest

from benchmarks import damage
from handsfree.storage import journal, record
from handsfree.storage.lines import Unknown


def test_a_hundred_and_twenty_damages_are_named_and_not_believed(tmp_path: Path) -> None:
    found = damage.damaged(tmp_path, times=120, seed=3)
    assert found.unnamed == [] and found.believed == []
    assert found.done.total() > 110 and set(found.done) == set(damage.DAMAGES)
    assert 40 < found.asked < found.done.total()


@pytest.mark.parametrize("blind", ["links", "seal"])
def test_the_harness_sees_a_reader_that_looks_at_less(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, blind: str
) -> None:
    if blind == "links":
        monkeypatch.setattr(journal._Follow, "_what", lambda self, piece, line: "")
    else:
        monkeypatch.setattr(record, "_unlike_seal", lambda folder, found, reached: [])
    found = damage.damaged(tmp_path, times=48, seed=3)
    assert found.unnamed and found.believed


def test_each_damage_is_one(tmp_path: Path) -> None:
    folder = tmp_path / "sessions"
    for kind, make in damage.DAMAGES.items():
        rig = tmp_path / kind
        (rig / "sessions").mkdir(parents=True)
        for number in range(1, 4):
            log = journal.Journal(rig / "sessions" / f"{number:06d}-a.jsonl")
            for n in range(4):
                log.write(Unknown("event" if n else "begun", {"rig": "x", "number": number}),
                          float(n))
            log.close()
        (tmp_path / "theirs" / "sessions").mkdir(parents=True, exist_ok=True)
        if not list((tmp_path / "theirs" / "sessions").iterdir()):
            log = journal.Journal(tmp_path / "theirs" / "sessions" / "000002-a.jsonl")
            log.write(Unknown("begun", {"rig": "y"}), 0.0)
            log.close()
        before = {path.name: path.read_bytes() for path in (rig / "sessions").iterdir()}
        make(rig, random.Random(1))
        assert before != {path.name: path.read_bytes() for path in (rig / "sessions").iterdir()}
    assert not folder.exists()
