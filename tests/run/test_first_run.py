"""The first run of somebody who has no rig file: only what is needed is asked, and kept."""

import os
import pty
import subprocess
import sys
import time
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Origin
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.checklist.rig_questions import SUMS_TOO, Answers, rig_questions
from handsfree.cli import main
from handsfree.cli.first_questions import (
    Somebody,
    ask_how_it_stands,
    by_keyboard,
    make_rig,
    rig_to_use,
)
from handsfree.cli.rig_new import by_keyboard as rig_by_keyboard
from handsfree.cli.wiring import sounds
from handsfree.engine.state import Mode
from handsfree.errors import AuthorError, InputError
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.language.loader import language_names, load_language
from handsfree.rehearsal import rehearsal
from handsfree.rehearsal.script import Script
from handsfree.session.interview import answers, interview
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.storage.journal import Journal
from handsfree.storage.lines import Line
from handsfree.storage.paths import checklist_names, checklists_folder
from handsfree.storage.record import latest, rig_folder
from handsfree.testing import talk
from tests.pulse import NO_SOUND

LIST = """\
title: Tiny
defers: The manual comes first.
facts:
  hitched: {says: truck and trailer are together, otherwise: the trailer stands alone,
            start: true, travel: must}
  chocked: {says: the wheels are chocked, otherwise: the wheels are free, travel: must not}
  seen: it was looked at
traits:
  slide-out: {says: it has a slide-out, ask: "Does it have a slide-out?"}
  mast: {says: it has a mast, ask: "Does it have a mast?"}
gear:
  hose: {says: the hose is out, otherwise: the hose is in}
limits:
  psi high: {default: 60, unit: psi, ask: "What pressure does it take?"}
  wind high: {default: 35, unit: miles_per_hour, ask: "Up to which wind?"}
  track: {default: 0, unit: inches, ask: "How wide is it?"}
  not used: {default: 1, unit: psi, ask: "Nobody wants to know?"}
steps:
  - {id: chock, do: Chock it., respond: chocks set, gives: [chocked, seen]}
  - {id: gauge, do: Read the gauge., reading: {of: psi, at most: psi high}}
  - {id: wind, do: Read the wind., only if: slide-out,
     reading: {of: miles_per_hour, at most: wind high}}
  - {id: side, do: Read the level., sum: lift side, reading: {of: degrees, between: [0, 1]}}
  - {id: hose-in, do: Take the hose in., brings back: hose}
  - {id: pull, do: Pull away., needs: chocked, ends: hitched}
"""


def words(key: str, **fields: str) -> str:
    return f"{key} {' '.join(fields.values())}".strip()


@pytest.fixture
def tiny(tmp_path: Path) -> Path:
    path = tmp_path / "tiny.yaml"
    path.write_text(LIST, encoding="utf-8")
    return path


@pytest.fixture(autouse=True)
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))


# --- what is asked ------------------------------------------------------------------------------

def test_only_what_the_checklist_uses_is_asked(tiny: Path) -> None:
    checklist = load_checklist(tiny)
    asked = {q.id: q for q in rig_questions([checklist], words)}
    assert list(asked) == ["slide-out", "psi high", "wind high", SUMS_TOO, "track"]
    assert not asked["wind high"].only_if.holds(set()) and asked["wind high"].only_if.holds(
        {"slide-out"})
    assert not asked["track"].only_if.holds(set())


@pytest.mark.parametrize("name", checklist_names())
def test_every_shipped_checklist_asks_for_all_traits_that_decide_its_steps(name: str) -> None:
    checklist = load_checklist(checklists_folder() / f"{name}.yaml", library=checklists_folder())
    asked = {q.id for q in rig_questions([checklist], words) if q.limit is None}
    for step in checklist.steps.values():
        for fact in step.only_if.names() | step.needs.names():
            assert checklist.facts[fact].origin is not Origin.TRAIT or fact in asked


# --- by keyboard --------------------------------------------------------------------------------

def asked_by_keyboard(
    said: str, tiny: Path, data: Path, stands: bool = False
) -> tuple[Result, Path]:
    """The questions in a process that has these lines to read; then how it stands, too."""
    import click

    @click.command()
    def ask() -> None:
        name = rig_to_use(str(tiny), None, data, lambda: Somebody(by_keyboard, rig_by_keyboard))
        if stands:
            rig = load_rig(data / "rigs" / f"{name}.yaml")
            ask_how_it_stands([load_checklist(tiny, rig=rig)], rig, data, by_keyboard)
        click.echo(name)

    return CliRunner().invoke(ask, input=said), data / "rigs" / "my-trailer.yaml"


def test_enter_takes_what_is_offered(tiny: Path, tmp_path: Path) -> None:
    done, path = asked_by_keyboard("\n" * 5, tiny, tmp_path / "data")
    assert done.exit_code == 0, done.output
    assert done.output.endswith("my-trailer\n")
    assert yaml.safe_load(path.read_text()) == {
        "name": "My trailer", "has": [], "has not": ["slide-out"], "limits": {"psi high": 60.0}}
    assert latest(rig_folder(tmp_path / "data", "My trailer")) is None


def test_answers_are_kept_and_the_record_begins_with_the_truth(
    tiny: Path, tmp_path: Path
) -> None:
    done, path = asked_by_keyboard("y\n45\n30\ny\n70\nn\nn\nn\ny\ny\n", tiny, tmp_path / "data",
                                   stands=True)
    assert done.exit_code == 0, done.output
    assert "do not know how the trailer is set" in done.output
    rig = load_rig(path)
    assert rig.has == {"slide-out"} and rig.limits == {
        "psi high": 45, "wind high": 30, "track": 70}
    last = latest(rig_folder(tmp_path / "data", "My trailer"))
    assert last is not None and last.ended
    assert last.facts >= {"chocked", "hose out", "slide-out"} and "hitched" not in last.facts
    assert last.settled >= {"hitched", "chocked", "hose out"}
    done, _ = asked_by_keyboard("", tiny, tmp_path / "data", stands=True)
    assert done.exit_code == 0 and "?" not in done.output, "nothing is left to ask"


@pytest.mark.parametrize("nonsense", ("many", "nan", "inf", "1e9"))
def test_nonsense_is_asked_again(nonsense: str, tiny: Path, tmp_path: Path) -> None:
    done, path = asked_by_keyboard(f"\n{nonsense}\n45\n\n\n", tiny, tmp_path / "data")
    assert done.exit_code == 0 and "a number in digits" in done.output
    assert load_rig(path).limits == {"psi high": 45}


def test_what_no_rig_can_have_is_asked_again_and_never_written(
    tiny: Path, tmp_path: Path
) -> None:
    tiny.write_text(LIST.replace("psi high", "volts low"))
    done, path = asked_by_keyboard("\n-5\n110\n\n\n", tiny, tmp_path / "data")
    assert done.exit_code == 0 and "cannot be -5" in done.output, done.output
    assert load_rig(path).limits == {"volts low": 110}
    with pytest.raises(InputError, match="'volts low' cannot be -5.*nothing was written"):
        make_rig("Other", None, tmp_path, [load_checklist(tiny)],
                 lambda *asked: Answers(frozenset(), {"volts low": -5.0}))
    assert not list(tmp_path.glob("rigs/other*"))


def test_another_checklist_asks_only_what_is_new(tiny: Path, tmp_path: Path) -> None:
    _, path = asked_by_keyboard("\n" * 5, tiny, tmp_path / "data")
    tiny.write_text(LIST.replace("needs: chocked, ends", "only if: mast, needs: chocked, ends"))
    done, _ = asked_by_keyboard("y\n", tiny, tmp_path / "data")
    assert done.exit_code == 0 and done.output.count("?") == 1, done.output
    rig = load_rig(path)
    assert rig.has == {"mast"} and rig.lacks == {"slide-out"} and rig.limits == {"psi high": 60}
    done, _ = asked_by_keyboard("", tiny, tmp_path / "data")
    assert done.exit_code == 0 and "?" not in done.output


def test_a_file_with_its_owners_notes_is_not_written_anew(tiny: Path, tmp_path: Path) -> None:
    _, path = asked_by_keyboard("\n" * 5, tiny, tmp_path / "data")
    path.write_text("# mine\n" + path.read_text().replace("- slide-out", "[]").replace(
        "has not:\n[]", "has not: []"))
    before = path.read_text()
    done, _ = asked_by_keyboard("", tiny, tmp_path / "data")
    assert done.exit_code == 0 and "does not say yet: slide-out" in done.output
    assert path.read_text() == before


def test_numbers_that_do_not_go_together_write_nothing(tiny: Path, tmp_path: Path) -> None:
    tiny.write_text(LIST.replace("at most: psi high", "between: [psi high, 80]"))
    done, path = asked_by_keyboard("\n90\n\n\n", tiny, tmp_path / "data")
    assert isinstance(done.exception, InputError)
    assert "do not go together" in str(done.exception) and not path.exists()


def test_nobody_to_ask_is_one_sentence(tiny: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no rig file yet; make one with"):
        rig_to_use(str(tiny), None, tmp_path, lambda: None)
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "run", str(tiny)], stdin=subprocess.DEVNULL,
        capture_output=True, text=True, timeout=60,
        env={**os.environ, **NO_SOUND, "HANDSFREE_DATA": str(tmp_path)})
    assert done.returncode == 2 and done.stderr.count("\n") == 1, done.stderr


def test_a_rig_that_has_and_has_not_is_named_by_line(tmp_path: Path) -> None:
    path = tmp_path / "rig.yaml"
    path.write_text("name: R\nhas: [gas]\nhas not: [gas]\n")
    with pytest.raises(AuthorError, match="line 3: the rig both has 'gas' and has not"):
        load_rig(path)


def test_rig_new_asks_the_same_way(tmp_path: Path) -> None:
    done = CliRunner().invoke(main, ["rig", "new", "Old van"], input="\n" * 200)
    assert done.exit_code == 0, done.output
    last = latest(rig_folder(tmp_path / "data", "Old van"))
    assert last and {"hitched", "parked", "chocked"} <= last.settled
    rig = load_rig(tmp_path / "data" / "rigs" / "old-van.yaml")
    assert rig.lacks and "awning" in rig.lacks and "gas" in rig.has
    with pytest.raises(InputError, match="already exists"):
        make_rig("Old van", None, tmp_path / "data", [], lambda *asked: Answers())


def test_at_a_real_terminal_it_asks_and_goes_on(tiny: Path, tmp_path: Path) -> None:
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "handsfree", "run", str(tiny), "--no-screen"], stdin=theirs,
        stdout=theirs, stderr=theirs, close_fds=True, start_new_session=True,
        env={**os.environ, **NO_SOUND, "HANDSFREE_DATA": str(tmp_path / "data"), "TERM": "dumb",
             "NO_COLOR": "1"})
    os.close(theirs)
    os.set_blocking(ours, False)
    shown = ""

    def until(wanted: str) -> None:
        nonlocal shown
        end = time.monotonic() + 30
        while wanted not in shown:
            assert time.monotonic() < end, shown
            time.sleep(0.05)
            try:
                shown += os.read(ours, 65536).decode("utf-8", "replace")
            except (BlockingIOError, OSError):
                continue
        shown = shown.partition(wanted)[2]

    try:
        for question, answer in (("slide-out", "n"), ("pressure", "50"), ("leveling", ""),
                                 ("for the road", "n"), ("set up for a stay", "n"),
                                 ("together", "n"), ("chocked", "y"), ("hose is out", "n")):
            until(question)
            os.write(ours, f"{answer}\n".encode())
        until("> Chock it.")
        assert "\x1b" not in shown
        os.write(ours, b"f")
        until("Stopping for now")
        process.wait(30)
    finally:
        process.kill()
        process.wait()
        os.close(ours)
    last = latest(rig_folder(tmp_path / "data", "My trailer"))
    assert last is not None and "chocked" in last.facts and "hitched" not in last.facts


# --- by voice -----------------------------------------------------------------------------------

@pytest.mark.parametrize("code", language_names())
def test_the_questions_can_be_talked_through_in_every_language(code: str, tiny: Path) -> None:
    checklist, language = load_checklist(tiny), load_language(code)
    questions = list(rig_questions([checklist], words))
    asking = interview(questions, (), language)
    script = Script(
        answers={"slide-out": True, "keep psi high": False, "keep wind high": True},
        readings={"psi high number": ("45 psi" if code == "en" else "45",)} if code == "en" else {})
    told = talk(asking, language, script)
    assert told.conversation.state.mode is Mode.CLOSED, told.turns[-3:]
    given = answers(questions, told.conversation.state.facts, told.log.lines)
    assert given.yes == {"slide-out"} and given.numbers["wind high"] == 35
    assert set(given.numbers) == {"psi high", "wind high"}
    if code == "en":
        assert given.numbers["psi high"] == 45
        said = "\n".join(told.words_of("program"))
        assert "What pressure does it take? I would use sixty psi. Is that right for yours?" in said


def test_by_a_real_voice_in_real_air(tiny: Path, tmp_path: Path) -> None:
    checklist, language = load_checklist(tiny), load_language("en")
    questions = list(rig_questions([checklist], words))
    asking = interview(questions, (), language)
    script = Script(answers={"slide-out": True, "keep wind high": True, "keep psi high": False},
                    readings={"psi high number": ("forty five pounds",)})
    recogniser = open_recogniser("own", "en", None, language.pronunciations)
    log = Journal(tmp_path / "a.jsonl")
    lines: list[Line] = []

    class Kept:
        def write(self, line: Line, t: float, who: str = "") -> None:
            lines.extend([line, *line.led_to()])
            log.write(line, t, who)

    with (sounds(language, tmp_path) as spoken,
          OperatorVoice(language.voice, script.variant, script.pace) as voice):
        done, _ = rehearsal.rehearse(
            script, asking, language, listener=Listener(recogniser), sounds=spoken,
            operator_voice=voice, log=Kept(),
            begin=lambda conversation, t: conversation.begin(frozenset(), t),
            say=spoken.speakable)
    log.close()
    recogniser.close()
    assert done.conversation.state.mode is Mode.CLOSED
    given = answers(questions, done.conversation.state.facts, lines)
    assert given.yes == {"slide-out"}
    assert given.numbers == {"psi high": 45, "wind high": 35}
    assert Rig("x", given.yes).has  # what the file is made of
