"""Journals of another machine: none is counted twice, and none gets out of its folder."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from handsfree.errors import InputError
from handsfree.review import history
from handsfree.review.importing import import_journals
from tests.review.book import Book


def simple(session: str, **about: object) -> Book:
    book = Book(session=session, **about)  # type: ignore[arg-type]
    return book.offer(0, "chock").done(60, "chock").offer(60, "hose").done(90, "hose").close(95)


def everything(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*"))
            if p.is_file() and "cache" not in p.parts}


@pytest.fixture
def here(tmp_path: Path) -> Path:
    data = tmp_path / "here"
    simple("mine").save(data, 1)
    return data


@pytest.fixture
def there(tmp_path: Path) -> Path:
    data = tmp_path / "there"
    simple("theirs").save(data, 1)
    simple("theirs too", rig="Second Rig!").save(data, 1, rig="second")
    return data


def test_an_import_adds_sessions_and_changes_no_rig(here: Path, there: Path) -> None:
    before = everything(here)
    done = import_journals(there, here)
    assert (len(done.new), done.known, done.problems) == (2, 0, ())
    found = history.load(here)
    assert sorted(found.columns.text("session")) == ["mine", "theirs", "theirs too"]
    after = everything(here)
    assert {k: v for k, v in after.items() if k.startswith("rigs/")} == before
    new = next(path for path in done.new if "second-rig" in str(path))
    assert stat.S_IMODE(new.stat().st_mode) & 0o077 == 0, "private"


def test_importing_again_and_both_ways_counts_nothing_twice(here: Path, there: Path) -> None:
    import_journals(there, here)
    before = everything(here)
    again = import_journals(there, here)
    assert (len(again.new), again.known) == (0, 2) and everything(here) == before
    import_journals(here, there)   # which holds what came from there, too
    assert len(history.load(there)) == 3 and len(history.load(here)) == 3


def test_a_session_that_went_on_meanwhile_replaces_its_shorter_telling(
    here: Path, there: Path
) -> None:
    path = there / "rigs" / "survey-trailer" / "sessions" / "000001-depart.jsonl"
    whole = path.read_text()
    path.write_text("".join(whole.splitlines(keepends=True)[:3]) + '{"n": 4, "at"')
    first = import_journals(path, here)
    assert len(first.new) == 1 and "cut off" in str(first.problems[0])
    path.write_text(whole)
    second = import_journals(path, here)
    assert (len(second.new), len(second.longer), second.known) == (0, 1, 0)
    found = history.load(here).only(checklist="depart")
    assert len(found) == 2 and found.columns.sessions["closed"].all()
    path.write_text("".join(whole.splitlines(keepends=True)[:3]))
    assert import_journals(path, here).known == 1, "a shorter telling changes nothing"


def test_one_id_with_two_stories_keeps_the_first_and_says_so(here: Path, there: Path) -> None:
    Book(session="mine").offer(0, "mat").done(5, "mat").close(5).save(there, 7)
    done = import_journals(there, here)
    assert len(done.new) == 2
    assert "same session id" in str(done.problems[0]) and "000007" in str(done.problems[0])
    found = history.load(here)
    row = list(found.columns.text("session")).index("mine")
    assert found.columns.session(row).seconds == pytest.approx(95)


@pytest.mark.parametrize("evil", ["../../../outside", "/etc/cron.d/x", "..", "", "a/b", "C:\\x",
                                  "x" * 5000, "\u202ename", "con\x00"])
def test_no_name_in_a_journal_leads_out_of_the_folder(
    tmp_path: Path, here: Path, evil: str
) -> None:
    source = tmp_path / "source"
    source.mkdir()
    book = simple(evil or "id", rig=evil, checklist="depart")
    book.lines[0]["checklist"] = evil
    (source / "000001-x.jsonl").write_text(book.text())
    done = import_journals(source, here)
    inside = (here / "imported" / "rigs").resolve()
    assert len(done.new) == 1
    assert done.new[0].resolve().is_relative_to(inside)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["here", "source"]


def test_links_are_not_followed(tmp_path: Path, here: Path) -> None:
    secret = tmp_path / "secret"
    simple("secret").save(secret, 1)
    source = tmp_path / "source"
    simple("open").save(source, 1)
    os.symlink(secret, source / "rigs" / "linked")
    os.symlink(secret / "rigs" / "survey-trailer" / "sessions" / "000001-depart.jsonl",
               source / "rigs" / "survey-trailer" / "sessions" / "000002-depart.jsonl")
    import_journals(source, here)
    assert "secret" not in list(history.load(here).columns.text("session"))


def test_foreign_and_damaged_files_are_named_and_the_good_ones_used(
    here: Path, there: Path
) -> None:
    folder = there / "rigs" / "survey-trailer" / "sessions"
    (folder / "000002-log.jsonl").write_text('{"level": "info"}\n')
    (folder / "000003-x.jsonl").write_bytes(os.urandom(500))
    (folder / "000004-depart.jsonl").write_text(
        simple("half").text().replace('"what": "offered"', '"wha', 1))
    (folder / "000005-depart.jsonl").write_text(simple("").text())
    done = import_journals(there, here)
    said = " ".join(map(str, done.problems))
    assert len(done.new) == 3
    assert "000002-log.jsonl: is not a journal" in said and "000003-x.jsonl" in said
    assert "000004-depart.jsonl, line 2: cannot be read" in said
    assert "no session id" in said


@pytest.mark.parametrize("what", ["nothing", "empty", "itself"])
def test_a_source_that_cannot_be_meant_is_refused(tmp_path: Path, here: Path, what: str) -> None:
    (tmp_path / "empty").mkdir()
    source = {"nothing": tmp_path / "nothing", "empty": tmp_path / "empty", "itself": here}[what]
    with pytest.raises(InputError):
        import_journals(source, here)
