"""A newcomer's trailer by voice: few questions, back, and nothing lost in a kill; typed as it is said."""

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.checklist.rig_questions import Answers
from handsfree.cli import main
from handsfree.cli.rig_new import presets
from handsfree.hearing.types import Hypothesis, Rejection
from handsfree.language.loader import load_language
from handsfree.session.rig_interview import RigInterview
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import latest, rig_folder
from handsfree.storage.rig_draft import Draft
from handsfree.testing import MemoryLog

START = ("hello trailer", "start the interview")
FIGURES = ("sixty five psi", "eighty psi", "seven thousand pounds", "i do not know", "i do not know",
           "one thousand pounds", "sixty psi", "ninety foot pounds", "one hundred twenty foot pounds",
           "twenty four feet")
TANDEM = ("tandem axle", "that is right", "none of them", "thirty amps", *FIGURES, "that is right")


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    return tmp_path


def said(*lines: str) -> str:
    """What is shown when these lines are said, one after another."""
    done = CliRunner().invoke(main, ["stand-by", "--text"], input="".join(f"{one}\n" for one in lines))
    assert done.exit_code == 0 and "Traceback" not in done.output, done.output
    return done.output


def asked_of_the_rig(told: str) -> list[str]:
    """The questions about the rig itself."""
    about = told.partition("start the interview  [")[2].partition("Written:")[0]
    return [line for line in about.splitlines() if line.startswith("> ") and (
        "?" in line or "Or say:" in line or "Say:" in line)]


def test_at_most_fifteen_questions_for_a_usual_trailer(data: Path) -> None:
    told = said(*START, *TANDEM)
    assert 10 <= len(asked_of_the_rig(told)) <= 15, told
    rig = load_rig(data / "rigs" / "my-trailer.yaml")
    usual = load_rig(next((checklists_folder() / "kinds").glob("*tandem.yaml")))
    assert rig.has == usual.has and rig.lacks and "antenna" in rig.lacks
    assert rig.limits["tyre psi low"] == 65 and rig.limits["tyre psi high"] == 80
    assert rig.limits["gross rating"] == 7000 and rig.limits["cord watts"] == 3600
    assert not list(data.glob("rigs/*.draft"))
    assert "A tandem axle usually has: " in told and "safety chains" in told


def test_what_differs_is_said_by_name(data: Path) -> None:
    said(*START, "tandem axle", "no awning", "without the slide-out", "it has an antenna", "that is all",
         "surge protector", "none of them", "fifty amps", *FIGURES, "that is right")
    rig = load_rig(data / "rigs" / "my-trailer.yaml")
    assert not rig.has & {"awning", "slide-out"} and rig.has >= {"antenna", "surge protector", "two legs"}
    assert rig.limits["cord watts"] == 12000


def test_what_it_may_have_besides_is_named_a_breath_at_a_time(data: Path) -> None:
    """Some thirty things can be heard out by nobody; seven, give or take two, can be kept in mind (Miller
    1956, The Magical Number Seven).  The usual ones come first, and any of them can be said at any time."""
    told = said(*START, "small trailer", "that is right", *["tell me more"] * 5, "weather mast", "none of them",
                "thirty amps", *FIGURES, "that is right")
    asked = re.findall(r"(?:Some have more|Others): ([^.]+)\.", told)
    named = [re.split(r", | and ", one) for one in asked]
    assert all(len(one) <= 9 for one in named) and len(named) >= 5, asked
    assert "awning" in named[0] and "weather mast" not in named[0]
    assert {"both poles", "weather mast", "slide-out"} <= {name for one in named for name in one}
    assert "weather mast" in load_rig(data / "rigs" / "my-trailer.yaml").has


def test_several_differences_in_one_sentence(data: Path) -> None:
    told = said(*START, "tandem axle", "no awning, and it has an antenna", "that is all", "none of them",
                "thirty amps", *FIGURES, "that is right")
    rig = load_rig(data / "rigs" / "my-trailer.yaml")
    assert "awning" not in rig.has and "antenna" in rig.has
    assert "Without awning." in told and "With antenna. Anything else?" in told, told


def test_what_was_surely_said_in_other_words_is_not_asked_about(data: Path) -> None:
    """Asked whether it was "yes that is right thank you", who has just said so wonders; a number is told back."""
    lists = [load_checklist(path, library=checklists_folder()) for path in checklists_folder().glob("arr*.yaml")]
    draft = presets("My trailer", data, lists, lambda draft, language: {}, lambda *some: Answers(frozenset(), {}))
    for sure, told in ((0.95, "Some have more"), (0.5, "Did you say:")):
        draft.file.unlink(missing_ok=True)
        talk = RigInterview(Draft("My trailer", draft.kinds, draft.traits, {}, draft.file),
                            load_language("en"), MemoryLog())
        talk.hear(Hypothesis("tandem axle", 1.0, 0.0, 1.0), 1.0)
        said = talk.hear(Rejection("unclear", 0.0, 1.0, written="yes that is right thank you", sure=sure), 2.0)
        assert told in " ".join(prompt.text for prompt in said), said


def test_two_slide_outs_are_named_read_back_and_written_down(data: Path) -> None:
    told = said(*START, "fifth wheel", "two slide-outs", "that is all", "none of them", "fifty amps", *FIGURES,
                "bedroom", "go back", "bedroom", "bedroom", "living room", "that is right")
    rig = load_rig(data / "rigs" / "my-trailer.yaml")
    assert rig.several["slides"] == ("bedroom", "living room"), told
    assert "Two slide-outs. Anything else?" in told
    assert "Slide-outs: bedroom and living room." in told, "read back before it is written"


def test_one_can_go_back_and_a_wrong_number_is_refused(data: Path) -> None:
    told = said(*START, "single axle", "go back", "tandem axle", "that is right", "none of them",
                "thirty amps", "six hundred psi", "sixty psi", "forty psi", "go back", "sixty five psi",
                "eighty psi", *FIGURES[2:], "that is right")
    assert "cannot be" in told and "below" in told, told
    rig = load_rig(data / "rigs" / "my-trailer.yaml")
    assert "tandem axle" in rig.has and rig.limits["tyre psi low"] == 65


def test_a_no_at_the_end_goes_back(data: Path) -> None:
    told = said(*START, *TANDEM[:-1], "no", "twenty five feet", "that is right")
    assert load_rig(data / "rigs" / "my-trailer.yaml").limits["rig length"] == 25, told


def test_after_a_kill_it_goes_on_where_it_stopped(data: Path) -> None:
    said_before = [*START, *TANDEM[:6]]
    process = subprocess.Popen([sys.executable, "-m", "handsfree", "stand-by", "--text"],
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
                               env={**os.environ, "PYTHONUNBUFFERED": "1"})
    assert process.stdin and process.stdout
    process.stdin.write("".join(f"{one}\n" for one in said_before))
    process.stdin.flush()
    for line in process.stdout:
        if "may weigh" in line:
            break
    process.send_signal(signal.SIGKILL)
    process.wait(30)
    kept = json.loads(next(data.glob("rigs/*.draft")).read_text())
    assert kept["tyre psi high"] == 80
    told = said(*START, *TANDEM[6:])
    assert "You have answered six questions. Going on." in told, told
    assert load_rig(data / "rigs" / "my-trailer.yaml").limits["tyre psi low"] == 65


def test_how_it_stands_is_gone_on_with_after_a_kill(data: Path) -> None:
    told = said(*START, *TANDEM, "ready for the road", "that is right")
    assert latest(rig_folder(data, "My trailer")) is None
    before = told.count("Is all of that right?")
    told = said(*START, *["that is right"] * 9)
    assert "You have answered" in told and told.count("Is all of that right?") < before + 6, told
    last = latest(rig_folder(data, "My trailer"))
    assert last is not None and "hitched" in last.facts and {"chocked", "awning out"} <= last.settled


def test_no_list_asks_about_the_rig_or_how_it_stands_again(data: Path) -> None:
    told = said(*START, *TANDEM, "ready for the road", *["that is right"] * 12, "never mind",
                "hello trailer", "start arrive", "new place")
    after = told.partition("start arrive  [")[2]
    assert "a little more of" not in after and "never asked" not in after, after
    assert told.count("Is that how it is right now?") <= 4, told
