"""`handsfree stand-by --text`: each thing that can be said to it, as a user would type it."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.cli import main, wiring
from handsfree.language.loader import load_language
from handsfree.storage import journal
from handsfree.storage.paths import checklists_folder
from handsfree.storage.record import latest, lock, rig_folder, session_paths
from tests.session.standing import told_how_it_stands

OWN = """\
title: Nest boxes
closing: All counted.
gear: {ladder: {says: the ladder is out, otherwise: the ladder is in}}
steps:
  - {id: ladder-up, do: Put the ladder up., puts out: ladder}
  - {id: count, do: Count the boxes.}
"""
CALL = "hello trailer"


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return somebodys_folder(tmp_path, monkeypatch, OWN)


def somebodys_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, own: str) -> Path:
    """The folder of somebody with one rig and a list of their own; how it stands is on record."""
    folder = tmp_path / "data"
    (folder / "rigs").mkdir(parents=True)
    (folder / "checklists").mkdir()
    shutil.copy(checklists_folder() / "rigs" / "small-single.yaml", folder / "rigs" / "mine.yaml")
    (folder / "checklists" / "nest-boxes.yaml").write_text(own, encoding="utf-8")
    monkeypatch.setenv("HANDSFREE_DATA", str(folder))
    settle(folder, "arrive")
    return folder


def settle(folder: Path, name: str, *more: str) -> None:
    made = wiring.plan(name, "mine", folder)
    told_how_it_stands(made.checklist, made.rig, load_language("en"), made.folder,
                       made.checklist.start_facts | set(more))


def rig(folder: Path) -> Path:
    return rig_folder(folder, "Small single-axle trailer")


def said(*lines: str, status: int = 0, options: tuple[str, ...] = ()) -> str:
    """What is shown when these lines are typed, one after another."""
    result: Result = CliRunner().invoke(
        main, ["stand-by", "--text", *options], input="".join(f"{line}\n" for line in lines))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    assert result.exit_code == status, result.output
    assert "Traceback" not in result.output
    return result.output


def last_answer(output: str) -> str:
    """The prompts after the last utterance."""
    rows = output.splitlines()
    at = max(n for n, row in enumerate(rows) if row.startswith("  "))
    return " ".join(row.removeprefix("> ") for row in rows[at + 1:] if row.startswith("> "))


def test_nobody_who_types_is_told_of_a_covered_microphone(data: Path) -> None:
    told = said(CALL, "start nest boxes", *["where are we"] * 30, "hold on", *["(60)"] * 30)
    assert "microphone" not in told, told


def test_asleep_it_hears_nothing_but_its_call(data: Path) -> None:
    told = said("what is out", "start arrive", "hello", "trailer")
    assert "Ready" in told and "out:" not in told and "Arrive" not in told
    assert len(session_paths(rig(data))) == 1
    assert "Yes" in said(CALL)


def test_another_call_is_the_owners_choice(data: Path) -> None:
    assert "Nothing is out" in said("wake up wagon", "what is out",
                                    options=("--call", "wake up wagon"))
    assert "Nothing is out" not in said(CALL, "what is out", options=("--call", "wake up wagon"))
    (data / "stand-by.yaml").write_text("call: wake up wagon\n", encoding="utf-8")
    assert "Nothing is out" in said("wake up wagon", "what is out")


def test_a_call_that_is_too_short_or_a_command_is_refused_in_one_sentence(data: Path) -> None:
    for bad in ("hey", "done", "stop", "", "what is out"):
        told = said(status=2, options=("--call", bad))
        assert told.count("\n") == 1 and "call" in told, told
    (data / "stand-by.yaml").write_text("call: [1, {a: b}]\n", encoding="utf-8")
    assert "stand-by.yaml" in said(status=2)


def test_a_list_is_started_left_and_gone_on_with(data: Path) -> None:
    told = said(CALL, "start arrive", "finish for now", CALL, "go on", "finish for now")
    assert told.count("Stopping for now") == 2
    assert "is not finished" in told  # it says so, standing by again
    assert "We were at" in told
    paths = session_paths(rig(data))
    assert [path.name[7:] for path in paths] == ["interview.jsonl", "arrive.jsonl"]
    assert "restarted" in [line.what for line in journal.read(paths[-1]).lines]


def test_starting_what_is_unfinished_asks_whether_to_go_on(data: Path) -> None:
    told = said(CALL, "start arrive", "finish for now", CALL, "start arrive", "yes",
                "finish for now")
    assert "Go on with it" in told and len(session_paths(rig(data))) == 2
    said(CALL, "start arrive", "no", "finish for now")
    assert len(session_paths(rig(data))) == 3


def test_a_list_of_ones_own_is_called_by_name_and_what_comes_next_is_told(data: Path) -> None:
    told = said(CALL, "nest boxes", "no", "done", "done", "what is out")
    assert "Nest boxes: complete" in told
    assert told.index("boxes: complete") < told.index("Out: the ladder is out")
    assert latest(rig(data)).facts >= {"ladder out"}  # type: ignore[union-attr]


def test_after_arriving_the_evening_round_comes_next(data: Path) -> None:
    from handsfree.standby.next_lists import load_next

    rows = load_next(checklists_folder())
    assert rows.after("arrive", frozenset({"chocked"})) == ("evening",
                                                            "Set up. Tonight, the evening round.")
    assert {name for name, _ in (rows.after(one, frozenset()) for one in rows.names)} <= {
        path.stem for path in checklists_folder().glob("*.yaml")} | {""}


def test_nothing_is_out_only_if_somebody_has_said_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "new"
    (folder / "rigs").mkdir(parents=True)
    shutil.copy(checklists_folder() / "rigs" / "small-single.yaml", folder / "rigs" / "mine.yaml")
    monkeypatch.setenv("HANDSFREE_DATA", str(folder))
    told = last_answer(said(CALL, "what is out"))
    assert "Nobody has told me how the trailer is set" in told and "Nothing is out" not in told
    told = last_answer(said(CALL, "the step is out", "that is right", "what is out"))
    assert "Nobody has told me" in told and "the step is out" in told


def test_a_list_that_another_process_has_is_refused_aloud_and_it_stands_by(data: Path) -> None:
    with lock(rig(data)):
        told = said(CALL, "start arrive", "what is out")
    assert "another session is running" in told and "Nothing is out" in told


def test_a_damaged_own_list_is_told_aloud_and_it_stands_by(data: Path) -> None:
    (data / "checklists" / "broken.yaml").write_text("title: [", encoding="utf-8")
    told = said(CALL, "start broken", "what is out")
    assert "broken.yaml" in told and "Nothing is out" in told


@pytest.mark.parametrize(("asked", "answer"), [
    ("what is out", "Nothing is out"), ("what's out?", "Nothing is out"),
    ("is the gas open", "No"), ("is the gas off", "Yes"), ("is the gas still open?", "No"),
    ("the gas is open?", "No"), ("the gas is shut\uff1f", "Yes"),
    ("can I drive off", "Nothing is out. Packing up takes about"), ("is it safe to drive", "Nothing is out"),
    ("can we leave now?", "Nothing is out"), ("did I shut the gas", "Yes: the gas is shut"),
    ("was the gas shut", "Yes: the gas is shut"), ("did I open the gas?", "No: the gas is shut"),
    ("are the wheels chocked", "No"), ("have we chocked the wheels", "No"),
    ("is the trailer hitched", "Yes"),
    ("what comes next", "next"), ("how long until we can roll", "minutes"),
    ("when is dark", "ark"), ("help", "You can say"), ("which lists are there", "Evening"),
    ("how did today compare", "today"),
])
def test_a_question_is_answered_from_the_record(asked: str, answer: str, data: Path) -> None:
    told = last_answer(said(CALL, asked))
    assert answer in told, told


NUMBERS = """\
  battery amp hours: 100
  always watts: 60
  panel watts: 200
  gas pounds: 20
  furnace btu: 16000
  people: 2
  generator gallons: 1
  generator watts: 1800
  generator hours: 5
  fuel gallons: 20
  miles per gallon: 10
  rig height: 11
  combined rating: 12000
"""

LASTS = [
    ("how long does the battery last", "runs what is always on for about ten hours"),
    ("what do the panels give today", "A clear day gives"),
    ("how long does the gas last", "At freezing, with the furnace running, that lasts two days."),
    ("how long does the water last", "lasts one point five days, at four gallons a person a day."),
    ("how long does the generator run", "it runs fourteen hours. Keep it outdoors, well away from door"),
    ("how far does the fuel go", "Into twenty miles per hour of head wind, a full tank goes one hundred"),
]


@pytest.mark.parametrize(("asked", "answer"), LASTS)
def test_how_long_it_lasts_is_answered_from_the_rigs_numbers(
    asked: str, answer: str, data: Path
) -> None:
    """By hand: 100 Ah at 5 A, half of it: 10 h, 0.5 x 20 h; 20 lb x 21,548 / (16,000 x 24 x 33 / 65) =
    2.2 days; 11 gal / (2 x 15 l) = 1.4 days;
    5 h / (0.5 + 0.5 x (60 / 1,800 - 0.25) / 0.75) = 14.06 h."""
    told = last_answer(said(CALL, asked))
    assert "I need these numbers in the rig file" in told, told
    path = data / "rigs" / "mine.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("limits:\n", "limits:\n" + NUMBERS),
                    encoding="utf-8")
    told = last_answer(said(CALL, asked))
    assert answer in told, told


def test_what_nobody_has_said_is_not_answered_with_yes_or_no(data: Path) -> None:
    for path in session_paths(rig(data)):
        path.unlink()
    (rig(data) / "seal").unlink()
    told = last_answer(said(CALL, "is the gas open"))
    assert "Nobody has told me" in told and not told.startswith(("Yes", "No."))


def test_a_correction_is_read_back_before_it_is_written(data: Path) -> None:
    told = said(CALL, "I put the step out and opened the gas", "no change it", "what is out")
    assert "For the record" in told and "Nothing is out" in told
    assert len(session_paths(rig(data))) == 1
    told = said(CALL, "the entry step is out", "that is right", "what is out")
    assert "Got it" in told and "the step is out" in last_answer(told)
    assert "entry step out" in latest(rig(data)).facts  # type: ignore[union-attr]
    assert not latest(rig(data)).faults  # type: ignore[union-attr]


def test_a_question_mark_confirms_no_correction(data: Path) -> None:
    told = said(CALL, "the step is out", "that is right?", "yes?")
    assert "On record" not in told and len(session_paths(rig(data))) == 1


def test_a_correction_that_breaks_a_never_rule_is_a_danger_at_once_and_at_the_next_start(
    data: Path
) -> None:
    told = said(CALL, "the trailer is unhitched", "that is right")
    assert "Danger" in last_answer(told)
    again = said()
    assert "Danger" in again and again.index("Danger") < again.index("Ready")


def test_what_could_mean_two_things_is_refused_with_the_choice(data: Path) -> None:
    told = last_answer(said(CALL, "the cord is out"))
    assert "power cord" in told and "light cord" in told and "For the record" not in told, told


def test_a_reminder_speaks_up_standing_by_asleep_and_after_a_restart(data: Path) -> None:
    told = said(CALL, "remind me in ten minutes", "(599)", "(2)")
    assert told.index("In ten minutes") < told.index("Your reminder")
    said(CALL, "remind me in ten minutes")
    kept = json.loads((data / "reminders.json").read_text("utf-8"))
    assert len(kept) == 1
    kept[0]["due"] -= 600
    (data / "reminders.json").write_text(json.dumps(kept), encoding="utf-8")
    assert "Your reminder" in said("(1)")
    assert "Your reminder" not in said("(1)")


def test_a_reminder_speaks_up_within_a_list_and_outlives_it(data: Path) -> None:
    told = said(CALL, "remind me in ten minutes", CALL, "nest boxes", "no", "(601)", "done",
                "done")
    assert told.index("Put the ladder up") < told.index("Your reminder") < told.index(
        "boxes: complete")
    told = said(CALL, "nest boxes", "remind me in ten minutes", "done", "done", "(601)")
    assert told.index("boxes: complete") < told.index("Your reminder")


def test_a_note_is_kept_with_the_record(data: Path) -> None:
    told = said(CALL, "make a note", "the left tyre looks low", CALL, "note buy a new lamp")
    assert told.count("Saved.") == 2
    lines = [line for path in session_paths(rig(data)) for line in journal.read(path).lines]
    assert [line.text for line in lines if line.what == "note"] == [
        "the left tyre looks low", "buy a new lamp"]
    assert not latest(rig(data)).faults  # type: ignore[union-attr]


def test_good_night_says_what_stands_open_and_sleeps(data: Path) -> None:
    told = said(CALL, "good night", "what is out")
    assert "Good night" in told and "Nothing is out" not in told


def test_what_it_does_not_understand_is_answered_by_what_it_can_do(data: Path) -> None:
    told = said(CALL, *["play some music"] * 6)
    answers = [row for row in told.splitlines() if row.startswith("> ")]
    assert "what is out" in answers[2] and "start" in answers[2], answers
    assert "Say hello trailer" in told.split("Ready")[1].split("can say")[1]
    assert "hard to hear" not in told and "catch" not in told


def test_who_types_within_a_list_is_told_another_way_each_time(data: Path) -> None:
    told = said(CALL, "nest boxes", "no", *["purple elephants fly"] * 5)
    answers = [row for row in told.split("Put the ladder up")[1].splitlines() if row.startswith("> ")]
    assert [answers.count(one) for one in set(answers)].count(5) == 0, told
    assert "> I did not catch that." == answers[0] and "Say help me, and I will tell" in answers[2], told
    assert answers[1].startswith("> Say done, or"), told


def test_asked_whether_it_is_all_right_it_looks(data: Path) -> None:
    told = said(CALL, "are you all right")
    assert "The record is in order." in told and "All is well." in told
    journals = session_paths(rig(data))
    journals[-1].write_bytes(journals[-1].read_bytes()[:-40] + b"{broken\n")
    told = said(CALL, "check yourself")
    assert "The record is damaged." in told and "All is well." not in told


def test_it_sleeps_again_by_itself(data: Path) -> None:
    told = said(CALL, "(60)", "what is out")
    assert "Nothing is out" not in told


def test_with_no_rig_file_it_asks_about_the_trailer_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    told = said(CALL, "what is out", "start the interview", "finish for now", CALL, "help")
    assert "do not know your trailer" in told
    assert told.count("Is it") + told.count("Does it") + told.count("What kind of rig") >= 1, told
    assert "did not answer all" in told and "You can say" in told


def test_the_interview_asks_how_it_stands_anew(data: Path) -> None:
    told = said(CALL, "start the interview", "ready for the road", *["that is right"] * 6,
                CALL, "what is out")
    assert "How is the trailer set right now" in told and "Nothing is out" in told
    assert [path.name[7:] for path in session_paths(rig(data))] == ["interview.jsonl"] * 2


def test_manner_is_changed_standing_by(data: Path) -> None:
    assert "Slower, like this" in said(CALL, "slow down")


def test_two_rigs_are_one_sentence(data: Path) -> None:
    shutil.copy(checklists_folder() / "rigs" / "tandem-slide.yaml", data / "rigs" / "other.yaml")
    told = said(status=2)
    assert told.count("\n") == 1 and "--rig" in told
    assert "Nothing is out" in said(CALL, "what is out", options=("--rig", "mine"))


def test_forgetting_all_takes_reminders_with_it(data: Path) -> None:
    said(CALL, "remind me in ten minutes")
    assert (data / "reminders.json").exists()
    assert CliRunner().invoke(main, ["forget", "--all", "--yes"]).exit_code == 0
    assert not (data / "reminders.json").exists()


@pytest.mark.parametrize("seed", range(3))
def test_no_words_lead_to_a_traceback_or_a_damaged_record(seed: int, data: Path) -> None:
    """Whatever may be said, junk, pauses and calls, in any order."""
    from random import Random

    from handsfree.cli.stand_by import _Settings
    from handsfree.standby.phrases import load_words

    settings = _Settings(data, None, "", load_language("en"), load_words("en"), (CALL,))
    phrases = sorted(settings.phrases(settings.known()).awake().phrases)
    rng = Random(seed)
    lines = [rng.choice([CALL, rng.choice(phrases), rng.choice(phrases), "that is right", "yes",
                         "(70)", "x" * 300, "finish for now", "done", "?!", "note x"])
             for _ in range(60)]
    said(*lines)
    found = latest(rig(data))
    assert found is not None and not found.faults


def test_what_the_rig_cannot_have_is_told_so(data: Path) -> None:
    """Small single-axle trailer: gas, but no slide-out, no waste tanks, a coupler and crank jacks."""
    gas = data / "rigs" / "mine.yaml"
    told = said(CALL, "is the slide-out extended", "is the slide out", "are the sewer valves open")
    assert told.count("The rig file says this trailer has no slide-out.") == 2, told
    assert "has no" not in said(CALL, "is the gas open")
    gas.write_text(gas.read_text("utf-8").replace("  - gas\n", ""), encoding="utf-8")
    assert "The rig file says this trailer has no gas." in said(CALL, "is the gas open")
    assert "The rig file says this trailer has no gas." in said(CALL, "is the gas shut")
