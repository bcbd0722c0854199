"""`handsfree learn`: whether one's own phrases are heard, on real speech in noise."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.checklist.loader import load_checklist
from handsfree.cli import main
from handsfree.hearing.own_pronunciations import sayings
from handsfree.language.loader import load_language
from handsfree.session.phrase_trial import Own, Tried, own_phrases

LIST = """\
title: My stay
facts:
  chocked: the wheels are chocked
  hitched: {says: the trailer is coupled, start: true}
never:
  - {id: roll, when: not hitched and not chocked, because: It would roll, now: Keep clear,
     respond: wheels are chocked, gives: chocked}
steps:
  - {id: walk, do: Walk round.}
  - {id: chock, do: Chock both wheels., respond: RESPONSE, gives: chocked, names: [zorbel]}
"""


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def learn(folder: Path, response: str, *options: str) -> Result:
    path = folder / "mine.yaml"
    path.write_text(LIST.replace("RESPONSE", response), encoding="utf-8")
    return CliRunner().invoke(main, ["learn", str(path), *options])


def test_phrases_that_are_heard_and_a_word_that_no_dictionary_has(
    tmp_path: Path, data: Path
) -> None:
    done = learn(tmp_path, "chocks set", "--all", "--say", "zorbel=z ao r b ah l")
    assert done.exit_code == 0, done.output
    assert "Heard surely: 5 of 5." in done.output
    assert "hold point chock, 'chocks set': " in done.output
    assert "danger roll, 'wheels are chocked':" in done.output
    assert "zorbel: Z AO R B AH L  (as you said)" in done.output
    assert sayings(data) == {"zorbel": ("Z AO R B AH L",)}


def test_a_response_that_is_taken_for_a_command_is_a_finding(tmp_path: Path, data: Path) -> None:
    done = learn(tmp_path, "weight a moment")  # sounds like one of the commands for a pause
    assert done.exit_code == 1, done.output
    line = next(line for line in done.output.splitlines() if "'weight a moment'" in line)
    assert "0 of 9" in line, "never heard as itself: both sound the same"
    assert "reword it" in done.output
    assert "zorbel: " in done.output and "it is in no dictionary" in done.output


@pytest.mark.parametrize(("options", "told"), [
    (["--say", "zorbel"], "write one word"), (["--say", "zorbel=QQ"], "'QQ'"),
    (["--say", "nowhere=N OW"], "in no phrase"), (["--unsay", "zorbel"], "yours are: none")])
def test_bad_options_are_told_before_anything_is_tried(
    tmp_path: Path, data: Path, options: list[str], told: str
) -> None:
    done = learn(tmp_path, "chocks set", *options)
    assert done.exit_code == 2 and told in done.output, done.output
    assert not data.exists()


@pytest.mark.parametrize("text", ["", "title: x\nsteps: 3\n", "steps: [", "title: Empty\nsteps: []\n"])
def test_a_bad_file_is_one_sentence(tmp_path: Path, data: Path, text: str) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(text)
    done = CliRunner().invoke(main, ["learn", str(path)])
    assert done.exit_code == 2 and "bad.yaml" in done.output
    assert "Traceback" not in done.output and done.output.count("\n") <= 2


def test_every_phrase_of_the_checklist_is_tried_against_its_own_step(tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(LIST.replace("RESPONSE", "chocks set"), encoding="utf-8")
    checklist, english = load_checklist(path), load_language("en")
    own = {one.text: one for one in own_phrases(checklist, english)}
    assert set(own) == {"chocks set", "wheels are chocked", "go to walk", "go to zorbel",
                        "go to chock"}
    assert "slow down" not in own["chocks set"].grammar.phrases
    assert {"slow down", "done"} <= own["go to walk"].grammar.phrases
    assert "skip" not in own["wheels are chocked"].grammar.phrases
    assert own["chocks set"].vital and own["wheels are chocked"].vital
    assert not own["go to walk"].vital


def test_sure_is_three_in_four_and_never_surely_something_else() -> None:
    own = next(iter(own_phrases_of_nothing()))
    assert Tried(own, 8, 6, 2).sure and not Tried(own, 8, 5, 3).sure
    assert not Tried(own, 8, 7, wrongly=1).sure and not Tried(own).sure
    assert Tried(own, 8, 5, 1).missed == 2


def own_phrases_of_nothing() -> list[Own]:
    from handsfree.hearing.types import Grammar

    return [Own("hold point", "x", "chocks set", Grammar())]


def test_a_call_phrase_of_ones_own_is_judged(tmp_path: Path) -> None:
    runner = CliRunner(env={"HANDSFREE_DATA": str(tmp_path)})
    good = runner.invoke(main, ["learn", "--call", "wake up wagon"])
    assert good.exit_code == 0 and "It will do" in good.output, good.output
    short = runner.invoke(main, ["learn", "--call", "hey"])
    assert short.exit_code == 2 and short.output.count("\n") == 1
    assert runner.invoke(main, ["learn"]).exit_code == 2
