"""All sessions of a folder: read once, in the right order, each counted once."""

from __future__ import annotations

import json
import os
import resource
import shutil
import stat
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pyarrow
import pytest
from pyarrow import dataset, parquet

from benchmarks.simulated_journal import SOME, session_lines, write_journal
from benchmarks.simulated_operator import any_operator, any_plan
from handsfree.review import history, store
from handsfree.review.columns import Columns, Gathering
from handsfree.review.timings import read_session
from tests.review.book import START, Book


def simple(session: str, **about: object) -> Book:
    book = Book(session=session, **about)  # type: ignore[arg-type]
    return book.offer(0, "chock").done(60, "chock").offer(60, "hose").done(90, "hose").close(95)


def test_an_absent_and_an_empty_folder_are_an_empty_history(tmp_path: Path) -> None:
    assert len(history.load(tmp_path / "nowhere")) == 0
    assert not (tmp_path / "nowhere").exists(), "looking makes no folder"
    (tmp_path / "rigs").mkdir()
    assert len(history.load(tmp_path)) == 0


def test_columns_give_back_the_record_that_the_journal_gives(tmp_path: Path) -> None:
    wall = START.astimezone(timezone(timedelta(hours=5, minutes=45)))
    path = simple("a", wall=wall, place="Pine Loop").save(tmp_path)
    found = history.load(tmp_path)
    direct, _ = read_session(path)
    kept = found.columns.session(0)
    assert kept.steps == direct.steps and kept.plan == direct.plan
    for name in ("session", "checklist", "rig", "place", "began", "number", "seconds", "active",
                 "paused", "closed"):
        assert getattr(kept, name) == getattr(direct, name), name
    assert kept.began.utcoffset() == direct.began.utcoffset()
    assert found.session(0).visits == direct.visits


def test_only_new_and_changed_journals_are_read_again(tmp_path: Path) -> None:
    first = simple("a").save(tmp_path, 1)
    simple("b").save(tmp_path, 2)
    assert history.load(tmp_path).read == 2
    assert history.load(tmp_path).read == 0
    simple("c").save(tmp_path, 3)
    assert history.load(tmp_path).read == 1
    first.write_text(Book(session="a").offer(0, "chock").text(), encoding="utf-8")
    found = history.load(tmp_path)
    assert found.read == 1 and len(found) == 3
    assert [found.columns.session(row).closed for row in range(3)] == [False, True, True]
    first.unlink()
    found = history.load(tmp_path)
    assert found.read == 0 and list(found.columns.text("session")) == ["b", "c"]
    assert found.columns.steps["row"].tolist() == [0, 0, 1, 1]


@pytest.mark.parametrize("harm", ["delete", "empty", "noise", "cut", "version", "codes", "path",
                                  "half"])
def test_a_store_that_is_gone_damaged_or_tampered_with_is_made_anew(
    tmp_path: Path, harm: str
) -> None:
    simple("a").save(tmp_path)
    before = history.load(tmp_path).columns.session(0)
    part, = (tmp_path / store.STORE).iterdir()
    sessions, steps = part / "sessions.parquet", part / "steps.parquet"
    if harm == "delete":
        shutil.rmtree(tmp_path / store.STORE)
    elif harm == "half":
        steps.unlink()
    elif harm in ("empty", "noise"):
        steps.write_bytes(b"" if harm == "empty" else os.urandom(4000))
    elif harm == "cut":
        steps.write_bytes(steps.read_bytes()[:-200])
    elif harm == "version":
        table = parquet.read_table(sessions)
        parquet.write_table(table.replace_schema_metadata({"handsfree": "0"}), sessions)
    elif harm == "path":
        table = parquet.read_table(sessions)
        place = table.schema.get_field_index("path")
        parquet.write_table(table.set_column(
            place, "path", pyarrow.array(["../../outside.jsonl"])), sessions)
    else:
        table = parquet.read_table(steps)
        place = table.schema.get_field_index("row")
        parquet.write_table(table.set_column(
            place, "row", pyarrow.array([7] * len(table), pyarrow.int32())), steps)
    found = history.load(tmp_path)
    assert found.read == 1 and found.columns.session(0) == before
    assert history.load(tmp_path).read == 0


def test_the_store_can_be_read_by_others_and_only_by_the_owner(tmp_path: Path) -> None:
    simple("a", place="Pine Loop").save(tmp_path, 1)
    history.load(tmp_path)
    simple("b").save(tmp_path, 2)
    history.load(tmp_path)
    rows = dataset.dataset(sorted((tmp_path / store.STORE).rglob("steps.parquet"))).to_table()
    assert rows.column("step").to_pylist() == ["chock", "hose"] * 2
    for path in (tmp_path / store.STORE).rglob("*"):
        assert stat.S_IMODE(path.stat().st_mode) == (0o700 if path.is_dir() else 0o600), path


def test_only_the_columns_that_are_asked_for_are_decoded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Book(session="a").offer(0, "chock").done(10, "chock").close(10).save(tmp_path)
    history.load(tmp_path)
    asked: list[str] = []
    decode = store._Held.column
    monkeypatch.setattr(store._Held, "column",
                        lambda held, name: (asked.append(name), decode(held, name))[1])
    found = history.load(tmp_path)
    asked.clear()
    assert found.columns.refusals.tolist() == [0]
    assert sorted(asked) == ["refusals", "row"]


def test_what_a_deleted_journal_said_leaves_the_store_at_the_next_reading(tmp_path: Path) -> None:
    gone = simple("a", place="Pine Loop").save(tmp_path, 1)
    simple("b").save(tmp_path, 2)
    history.load(tmp_path)
    gone.unlink()
    history.load(tmp_path)
    assert not any(b"Pine Loop" in path.read_bytes()
                   for path in (tmp_path / store.STORE).rglob("*.parquet"))


def test_many_readings_are_put_together_and_a_growing_journal_costs_little(tmp_path: Path) -> None:
    for number in range(1, 40):
        simple(f"s{number}").save(tmp_path, number)
        found = history.load(tmp_path)
        assert (found.read, len(found)) == (1, number)
    parts = len(list((tmp_path / store.STORE).iterdir()))
    assert 1 <= parts <= store._MOST_PARTS
    again = Book(session="s39").offer(0, "chock").save(tmp_path, 39)
    assert history.load(tmp_path).read == 1 and again.is_file()
    found = history.load(tmp_path)
    assert found.read == 0 and list(found.columns.text("session")) == [
        f"s{number}" for number in range(1, 40)]
    assert [found.columns.session(row).closed for row in (37, 38)] == [True, False]


def test_what_an_earlier_version_kept_goes_with_the_first_that_is_written(tmp_path: Path) -> None:
    old = tmp_path / "cache" / "review.npz"
    old.parent.mkdir()
    old.write_bytes(b"said")
    simple("a").save(tmp_path)
    history.load(tmp_path)
    assert not old.exists()


def test_what_was_refused_without_end_is_counted_as_far_as_it_goes(tmp_path: Path) -> None:
    book = Book().offer(0, "chock")
    book.lines += [{**book.lines[-1], "what": "refused", "n": 3 + n} for n in range(33_000)]
    book.save(tmp_path)
    for _ in range(2):
        assert history.load(tmp_path).columns.session(0).steps[0].refusals == 32_767


def test_a_folder_that_cannot_be_written_still_gives_its_history(tmp_path: Path) -> None:
    simple("a").save(tmp_path)
    (tmp_path / "cache").write_text("a file where the folder should be")
    assert len(history.load(tmp_path)) == 1


def test_problems_are_told_again_from_the_store(tmp_path: Path) -> None:
    simple("a").save(tmp_path, 1)
    torn = simple("b").save(tmp_path, 2)
    torn.write_text(torn.read_text()[:-9])
    (torn.parent / "000003-notes.jsonl").write_text("{\"foreign\": true}\n")
    first = [str(p) for p in history.load(tmp_path).problems]
    again = history.load(tmp_path)
    assert again.read == 0 and [str(p) for p in again.problems] == first
    assert len(first) == 2 and len(again) == 2
    assert any("000002" in p and "cut off" in p for p in first)
    assert any("000003" in p and "is not a journal" in p for p in first)


def test_two_journals_with_one_id_count_once_and_are_named(tmp_path: Path) -> None:
    long = simple("same").save(tmp_path, 1)
    short = Book(session="same").offer(0, "chock").done(5, "chock").save(tmp_path, 2)
    found = history.load(tmp_path)
    assert len(found) == 1 and found.columns.session(0).seconds == pytest.approx(95)
    assert [p.file for p in found.problems] == [f"rigs/survey-trailer/sessions/{short.name}"]
    assert long.name in str(found.problems[0]) and "same session id" in str(found.problems[0])


def test_the_running_number_orders_sessions_whose_clock_lied(tmp_path: Path) -> None:
    for number, wall in enumerate((START, datetime(2000, 1, 1, tzinfo=UTC),
                                   START + timedelta(days=2)), start=1):
        simple(f"s{number}", wall=wall).save(tmp_path, number)
    other = START + timedelta(days=1)
    simple("other", rig="second rig", wall=other).save(tmp_path, 1, rig="second-rig")
    assert list(history.load(tmp_path).columns.text("session")) == ["s1", "s2", "other", "s3"]


def test_filters(tmp_path: Path) -> None:
    late = datetime(2026, 5, 1, 23, 30, tzinfo=timezone(timedelta(hours=-7)))  # 2 May in UTC
    simple("a", place="Pine Loop 4", wall=late).save(tmp_path, 1)
    simple("b", rig="second rig", wall=late + timedelta(days=3)).save(tmp_path, 1, rig="second")
    simple("c", checklist="arrive", wall=late + timedelta(days=9), rehearsal=True).save(tmp_path, 2)
    found = history.load(tmp_path)

    def ids(**wanted: object) -> str:
        return "".join(found.only(**wanted).columns.text("session"))  # type: ignore[arg-type]

    assert ids() == "abc"
    assert ids(place="pine") == "a" and ids(rig="second rig") == "b" and ids(rig="x") == ""
    assert ids(checklist="arrive") == "c" and ids(rehearsals=False) == "ab"
    assert ids(until=date(2026, 5, 1)) == "a", "the date is that of the place, not of UTC"
    assert ids(since=date(2026, 5, 2)) == "bc"
    assert found.checklists() == ("arrive", "depart")


def test_a_million_records_take_under_two_seconds_and_300_megabytes(tmp_path: Path) -> None:
    """The columns are those of real journals, many times over; processor time, since CI is shared.

    `python -m benchmarks review --sessions 20000` writes and reads whole journals instead.
    """
    rng = np.random.default_rng(2)
    plan = any_plan(rng, 50)
    seconds, pauses = any_operator(rng, plan).stays(rng, np.arange(1, 51.0))
    seed = tmp_path / "seed"
    for stay in range(50):
        write_journal(seed / "rigs" / "r", stay + 1, session_lines(
            plan, seconds[stay], began=START + timedelta(days=stay), pause=float(pauses[stay]),
            mishaps=SOME, rng=rng))
    few = history.load(seed).columns
    copies = 400
    data = tmp_path / "data"
    folder = data / "rigs" / "r" / "sessions"
    folder.mkdir(parents=True)
    names = [f"rigs/r/sessions/{n + 1:06d}-depart.jsonl" for n in range(len(few) * copies)]
    for name in names:
        (data / name).write_text("x")
    ids = [f"id-{n}" for n in range(len(names))]
    base = len(few.words)
    sessions = {n: np.tile(c, copies) for n, c in few.sessions.items()}
    sessions["path"] = np.arange(len(names), dtype="i4") + base
    sessions["session"] = np.arange(len(names), dtype="i4") + base + len(names)
    steps = {n: np.tile(c, copies) for n, c in few.steps.items()}
    steps["row"] = np.concatenate([few.steps["row"] + k * len(few) for k in range(copies)])
    stats = [(data / name).stat() for name in names]
    store.keep(
        data, store.Kept(Gathering().columns(), (), {}, 0), (),
        Columns((*few.words, *names, *ids), sessions, steps, few.misses),
        [(name, s.st_size, s.st_mtime_ns) for name, s in zip(names, stats, strict=True)], {}, False)
    code = (
        "import sys, json; from pathlib import Path\n"
        "from benchmarks.memory import peak_megabytes\n"
        "from handsfree.review.history import load\n"
        "from handsfree.review.summary import summarise\n"
        "h = load(Path(sys.argv[1])); s = summarise(h.columns, 'depart')\n"
        "print(json.dumps([len(h), len(h.columns.steps['row']), h.read, s.sessions,"
        " peak_megabytes(), sorted({'pandas', 'scipy', 'matplotlib'} & sys.modules.keys())]))\n")
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, "-c", code, str(data)], capture_output=True, text=True,
                          check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    count, records, read, summed, megabytes, idle = json.loads(done.stdout)
    assert (count, read, summed, idle) == (20_000, 0, 20_000, []) and records >= 980_000
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    assert spent < 2.0, f"{spent:.2f} s of processor time"
    assert megabytes < 300, f"{megabytes:.0f} MB"


def test_keeping_what_was_read_loads_no_pandas(tmp_path: Path) -> None:
    """pyarrow would, where there is one: 48 MB of what a million records may take."""
    pytest.importorskip("pandas")
    Book().offer(0, "chock").done(10, "chock").close(10).save(tmp_path)
    code = ("import sys; from pathlib import Path\n"
            "from handsfree.review.history import load\n"
            "print(load(Path(sys.argv[1])).read, 'pyarrow' in sys.modules, 'pandas' in sys.modules)\n")
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True,
                          check=True)
    assert done.stdout.split() == ["1", "True", "False"]
    assert list((tmp_path / "cache" / "review").glob("part-*/steps.parquet"))
