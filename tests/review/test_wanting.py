"""What was found wanting in real use: each of these failed once."""

from __future__ import annotations

import re
import stat
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.cli import main
from handsfree.review import charts, history
from handsfree.review.timings import record
from tests.review.book import START, Book


def run(*arguments: object, data: Path | None = None) -> Result:
    env = {"HANDSFREE_DATA": str(data)} if data else {}
    return CliRunner(env=env).invoke(main, [str(a) for a in arguments])


def small(session: str = "s", **about: object) -> Book:
    book = Book(session=session, **about)  # type: ignore[arg-type]
    return book.offer(0, "chock").done(60, "chock").offer(60, "hose").done(90, "hose").close(95)


def two_people() -> Book:
    """Outside chocks while inside opens vents; each is spoken to on their own side."""
    book = Book(plan=[["chock", 1, 2, 3, True], ["vents", 1, 2, 3, True], ["slide", 1, 2, 3, True]])
    book.lines[0] |= {"operators": ["outside", "inside"], "who": "outside"}
    book.write(0, "offered", step="chock", who="outside")
    book.write(0, "offered", step="vents", who="inside")
    for side, begin, end in (("outside", 1, 5), ("inside", 40, 50)):
        book.write(end, "spoke", text="…", who=side,
                   **{"from": book.clock + begin, "to": book.clock + end})
    book.write(60, "reported", step="chock", kind="report", who="outside")
    book.write(60, "offered", step="slide", who="outside")
    book.write(70, "reported", step="vents", kind="report", who="inside")
    book.write(70, "offered", step="slide", who="inside")
    book.write(100, "reported", step="slide", kind="report", who="outside")
    return book.close(100)


def test_a_session_in_which_no_step_applied_does_not_block_the_page(tmp_path: Path) -> None:
    Book(checklist="storm", plan=[["awning", 1, 2, 3, False]]).close(5).save(tmp_path, 1)
    small().save(tmp_path, 2)
    done = run("review", "--html", tmp_path.with_suffix(".html"), "--data", tmp_path)
    assert done.exit_code == 0, done.output
    assert "Storm" in tmp_path.with_suffix(".html").read_text()
    assert run("review", "--checklist", "storm", "--data", tmp_path).exit_code == 0


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00",
                                "0001-01-01T00:00:00", "9999-12-31T23:59:59+00:00"])
def test_absurd_dates_end_in_no_traceback(tmp_path: Path, at: str) -> None:
    book = small()
    for line in book.lines:
        line["at"] = at
    book.save(tmp_path)
    for arguments in (("review",), ("review", "last"), ("review", "--since", "2020-01-01"),
                      ("review", "--html", tmp_path.with_suffix(".html")),
                      *(("export", tmp_path.with_suffix(end)) for end in (".csv", ".xes", ".parquet"))):
        done = run(*arguments, "--data", tmp_path)
        assert done.exit_code == 0 and not done.exception, (arguments, done.output)
    assert run("forget", "--before", "2026-01-01", "--yes", data=tmp_path).exit_code == 0


def test_a_journal_full_of_junk_is_one_message(tmp_path: Path) -> None:
    path = small().save(tmp_path)
    path.write_text(path.read_text() + "junk\n" * 50_000 + small().text())
    found = history.load(tmp_path)
    assert len(found.problems) == 1
    # 49,999 of junk, and the six lines behind it, which link to nothing that can be read
    assert "50,005 more lines" in str(found.problems[0])
    assert len(str(found.problems[0])) < 200


def test_of_two_people_each_bar_shows_its_own_talk_only() -> None:
    found = record(two_people().lines)
    chock, vents = (next(v for v in found.visits if v.step == name) for name in ("chock", "vents"))
    assert charts._within(found.talks, chock) == [(1, 5)]
    assert charts._within(found.talks, vents) == [(40, 50)]
    assert {s.step: s.who for s in found.steps} == {
        "chock": "outside", "vents": "inside", "slide": "both"}


def test_an_event_log_says_who_and_so_does_the_table(tmp_path: Path) -> None:
    two_people().save(tmp_path)
    assert run("export", tmp_path.with_suffix(".xes"), "--data", tmp_path).exit_code == 0
    root = ET.parse(tmp_path.with_suffix(".xes")).getroot()
    told = []
    for event in root.iter("event"):
        values = {child.get("key"): child.get("value") for child in event}
        told.append((values["concept:name"], values["org:resource"],
                     values["lifecycle:transition"]))
    assert ("chock", "outside", "complete") in told and ("vents", "inside", "complete") in told
    assert told.count(("slide", "inside", "complete")) == 1, "of a step for both, each is done"
    assert run("export", tmp_path.with_suffix(".csv"), "--data", tmp_path).exit_code == 0
    head, *rows = tmp_path.with_suffix(".csv").read_text().splitlines()
    place = head.split(",").index("who")
    assert [row.split(",")[place] for row in rows] == ["outside", "inside", "both"]


def test_ticks_are_written_as_they_are() -> None:
    svg = '<svg><path d="M 1.23456 2.5"/><text x="0.12345">0.025</text></svg>'
    made = charts._inline(svg, "n")
    assert ">0.025</text>" in made and "1.23 2.5" in made


@pytest.mark.parametrize("name", ["o.csv", "o.xes", "o.parquet", "p.html"])
def test_what_is_written_is_whole_private_and_replaces_nothing_unasked(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    small().save(tmp_path)
    path = tmp_path.with_suffix(f".{name}")
    command = (("review", "--html", path) if name == "p.html" else ("export", path))
    path.write_text("my own notes")
    done = run(*command, "--data", tmp_path)
    assert done.exit_code == 2 and "is there already" in done.output
    assert path.read_text() == "my own notes"
    path.unlink()
    assert run(*command, "--data", tmp_path).exit_code == 0
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    again = run(*command, *(() if name == "p.html" else ("--force",)), "--data", tmp_path)
    assert again.exit_code == 0, "a page of its own is made anew, an export with --force"


@pytest.mark.parametrize("name", ["o.csv", "o.xes"])
def test_an_export_that_fails_leaves_nothing_half(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    small().save(tmp_path)
    path = tmp_path.with_suffix(f".{name}")
    path.write_text("before")

    def full(*arguments: object, **named: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("handsfree.review.export._cells", full)
    monkeypatch.setattr("handsfree.review.xes._trace", full)
    done = run("export", path, "--force", "--data", tmp_path)
    assert done.exit_code == 4 and "No space left" in done.output
    assert path.read_text() == "before"
    assert not list(tmp_path.parent.glob(f".{path.stem}*"))


def noted(session: str, sound: bytes, data: Path) -> Book:
    book = Book(session=session).offer(0, "chock")
    book.write(5, "note", step="chock", audio="000001-depart-note-1.wav", text="")
    path = book.done(60, "chock").close(95).save(data, 1)
    path.with_name("000001-depart-note-1.wav").write_bytes(sound)
    return book


def test_an_import_brings_the_sound_of_notes_along(tmp_path: Path) -> None:
    """From two machines, whose notes have the same name."""
    for name in ("one", "two"):
        noted(name, f"RIFF {name}".encode(), tmp_path / name)
        done = run("import", tmp_path / name, "--data", tmp_path / "here")
        assert "1 sound files of notes" in done.output
    found = history.load(tmp_path / "here")
    sounds = {session: path.with_name("000001-depart-note-1.wav").read_bytes()
              for session, path in zip(found.columns.text("session"), found.paths(), strict=True)}
    assert sounds == {"one": b"RIFF one", "two": b"RIFF two"}
    again = run("import", tmp_path / "one", "--data", tmp_path / "here")
    assert "1 known already" in again.output and "0 sound files" in again.output


def test_an_import_takes_no_sound_from_elsewhere(tmp_path: Path) -> None:
    (tmp_path / "secret.wav").write_bytes(b"RIFF")
    book = Book().offer(0, "chock")
    for name in ("../../../../secret.wav", "/etc/passwd", "secret.txt"):
        book.write(5, "note", step="chock", audio=name, text="")
    book.close(9).save(tmp_path / "there")
    assert "0 sound files" in run("import", tmp_path / "there", "--data", tmp_path / "d").output


# --- forgotten is gone -----------------------------------------------------------------------------

SAID = re.compile(rb"wet rucksack|Osprey Bend|RIFF said|half a li|cracked-step")


def told(data: Path, session: str = "s", number: int = 1) -> Path:
    """A session whose words, place, step names, sounds and leftovers are easily found again."""
    book = Book(session=session, place="Osprey Bend",
                plan=[["cracked-step", 1, 2, 3, True]]).offer(0, "cracked-step")
    book.write(5, "note", step="cracked-step", audio=f"{number:06d}-depart-note-1.wav",
               text="the wet rucksack")
    path = book.done(60, "cracked-step").close(95).save(data, number)
    path.with_name(f"{path.stem}-note-1.wav").write_bytes(b"RIFF said")
    path.with_suffix(".torn").write_bytes(b"half a li")
    path.with_suffix(".damaged").write_text(book.text())
    path.with_suffix(".damaged-part").write_text(book.text())
    path.with_name("000099-gone-note-3.wav").write_bytes(b"RIFF said")
    path.with_name("stray.jsonl").write_text(book.text())
    return path


def left(data: Path) -> list[str]:
    """Files that hold, or are called by, anything that was said."""
    return [str(path.relative_to(data)) for path in sorted(data.rglob("*"))
            if path.is_file() and (SAID.search(path.read_bytes())
                                   or SAID.search(str(path).encode()))]


def test_after_forgetting_all_no_byte_of_what_was_said_is_left(tmp_path: Path) -> None:
    data, there = tmp_path / "data", tmp_path / "there"
    told(data), told(there, "theirs")
    run("import", there, "--data", data)
    for arguments in (("review",), ("review", "--checklist", "depart")):
        assert run(*arguments, "--data", data).exit_code == 0
    assert len(left(data)) > 8 and any("cache" in name for name in left(data))
    done = run("forget", "--all", "--yes", data=data)
    assert done.exit_code == 0 and left(data) == [], done.output


@pytest.mark.parametrize("what", [
    ("review", "--html", "page.html"), ("export", "notes.csv", "--table", "notes"),
    ("export", "steps.parquet"), ("export", "log.xes"),
    ("forecast", "depart", "--by", "11:00", "--html", "page.html")])
def test_nothing_is_written_where_forgetting_has_to_leave_nothing(
    tmp_path: Path, what: tuple[str, ...]
) -> None:
    data = tmp_path / "data"
    told(data)
    before = sorted(data.rglob("*"))
    done = run(*(data / word if "." in word else word for word in what), "--data", data, data=data)
    assert done.exit_code == 2 and "name a file elsewhere" in done.output, done.output
    assert sorted(data.rglob("*")) == before


def test_after_forgetting_before_a_day_nothing_older_is_left(tmp_path: Path) -> None:
    data, there = tmp_path / "data", tmp_path / "there"
    noted("theirs", b"RIFF said", there)
    run("import", there, "--data", data)
    path = told(data)
    path.with_name("000099-gone-note-3.wav").unlink()
    path.with_name("stray.jsonl").unlink()
    small("later", wall=START.replace(year=2027)).save(data, 2)
    run("review", "--data", data)
    assert run("forget", "--before", "2027-01-01", "--yes", data=data).exit_code == 0
    assert left(data) == []
    assert list(history.load(data).columns.text("session")) == ["later"]


def test_one_rig_can_be_forgotten_with_what_was_imported_of_it(tmp_path: Path) -> None:
    data, there = tmp_path / "data", tmp_path / "there"
    told(data), told(there, "theirs")
    run("import", there, "--data", data)
    small("other", rig="second").save(data, 1, rig="second")
    run("review", "--data", data)
    assert run("forget", "--all", "--rig", "survey trailer", "--yes", data=data).exit_code == 0
    assert left(data) == [] and len(history.load(data)) == 1


@pytest.mark.parametrize("plan", [[], [["chock", 0, 0, 0, True]], [["chock", 3, 2, 1, True]],
                                  [["chock", 1, 2, 1e999, True]]])
def test_a_forecast_of_stays_whose_plan_makes_no_sense_is_one_sentence(
    tmp_path: Path, plan: list[list[object]]
) -> None:
    small(plan=plan).save(tmp_path)
    done = run("forecast", "depart", "--by", "11:00", "--data", tmp_path, data=tmp_path)
    assert done.exit_code == 2 and isinstance(done.exception, SystemExit), done.output
    assert "no rig file" in done.output
