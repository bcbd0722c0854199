"""Notes come back in the review: when, at which step, in words where there are words, and where
the sound lies."""

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.review import export, history
from handsfree.review.history import History
from handsfree.review.html import page
from tests.review.book import Book


@pytest.fixture
def found(tmp_path: Path) -> History:
    book = Book(place="by the <lake>").offer(0, "chock")
    book.write(65, "note", step="chock", audio="000001-depart-note-1.wav", text="left one <cracked>")
    book.write(70, "note", step="chock", audio="000001-depart-note-2.wav", text="")
    book.done(80, "chock").write(90, "note", step="", audio="", text="typed, \"quoted\"")
    book.close(95).save(tmp_path)
    return history.load(tmp_path)


def test_on_the_terminal(found: History, tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["review", "1", "--data", str(tmp_path)],
                              env={"COLUMNS": "200", "NO_COLOR": "1"})
    assert done.exit_code == 0, done.output
    assert ("note at 1:05, chock: heard as: left one <cracked> (000001-depart-note-1.wav)\n"
            "note at 1:10, chock: spoken, not written down (000001-depart-note-2.wav)\n"
            'note at 1:30, between steps: typed, "quoted"\n') in done.output
    assert str(tmp_path / "rigs" / "survey-trailer" / "sessions") in done.output.replace("\n", "")


def test_on_the_page_what_was_said_is_no_markup(found: History) -> None:
    made = page(found.columns, [], found.session(0))
    assert "<li>1:05, chock: heard as: left one &lt;cracked&gt; (000001-depart-note-1.wav)</li>" in made
    assert "<li>1:10, chock: spoken, not written down (000001-depart-note-2.wav)</li>" in made


def test_as_a_table(found: History, tmp_path: Path) -> None:
    file = tmp_path.with_suffix(".csv")
    done = CliRunner().invoke(
        main, ["export", str(file), "--table", "notes", "--data", str(tmp_path)])
    assert done.exit_code == 0 and "Wrote 3 rows of 1 session " in done.output
    with open(file, encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert [(row["step"], row["text"], row["audio"]) for row in rows] == [
        ("chock", "left one <cracked>", "000001-depart-note-1.wav"),
        ("chock", "", "000001-depart-note-2.wav"), ("", 'typed, "quoted"', "")]
    assert rows[0]["at"] == "2026-05-01T09:01:05+00:00" and rows[0]["place"] == "by the <lake>"
    assert Path(rows[0]["path"]).is_file()


def test_no_notes_are_an_empty_table(tmp_path: Path) -> None:
    Book().offer(0, "chock").save(tmp_path)
    assert export.write_csv(history.load(tmp_path), tmp_path / "notes.csv", "notes") == 0
    assert (tmp_path / "notes.csv").read_text().startswith("session,rig,checklist,place,at,step")
