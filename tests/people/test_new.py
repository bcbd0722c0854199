"""A first checklist from plain questions: it loads, runs to its end, and lies about nothing."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.checklist.loader import load_checklist
from handsfree.cli import main
from handsfree.engine.state import Mode
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.testing import talk

ANSWERS = """\
Camp kitchen
Set the stove on level ground
n
n

Stone or bare earth
Open the gas
n
y
gas
skip this
gas is open
No flame near it.

1
the stove stands level
the stove does not stand level
Read the gas gauge
y
psi
50
10
10
50


1, 2
the gas is open
the gas is shut

"""


def interview(path: Path, answers: str) -> Result:
    return CliRunner().invoke(main, ["new", str(path)], input=answers)


def test_answers_become_a_checklist_that_keeps_its_order(tmp_path: Path) -> None:
    path = tmp_path / "kitchen.yaml"
    done = interview(path, ANSWERS)
    assert done.exit_code == 0, done.output
    made = load_checklist(path)
    assert made.title == "Camp kitchen" and len(made.order) == 3
    ground, gas, gauge = (made.steps[name] for name in made.order)
    assert not ground.hold and ground.detail == "Stone or bare earth."
    assert gas.respond == "gas is open" and gas.caution == "No flame near it."
    assert gauge.reading and (gauge.reading.unit, gauge.reading.low, gauge.reading.high) == (
        "psi", 10, 50)
    assert gas.needs.names() == ground.gives
    assert gauge.needs.names() == ground.gives | gas.gives
    # One word and a command were refused as responses, limits in the wrong order as well.
    assert "too easy to mishear" in done.output and "above the highest" in done.output
    assert "is a command" in done.output
    english = load_language("en")
    told = talk(made, english, Script(
        at={ground.id: (f"go to {gas.id.replace('-', ' ')}",)}, readings={gauge.id: ("thirty",)}))
    assert told.conversation.state.mode is Mode.CLOSED
    assert any("the stove does not stand level" in words for words in told.words_of("program"))
    refused = [line for line in told.log.lines if line.what == "refused"]
    assert [line.step for line in refused] == [gas.id]


def test_what_comes_of_it_is_proved(tmp_path: Path) -> None:
    check = pytest.importorskip("handsfree.cli.check")
    path = tmp_path / "kitchen.yaml"
    assert interview(path, ANSWERS).exit_code == 0
    done = CliRunner().invoke(check.check, [str(path), "--alone"])
    assert done.exit_code == 0, done.output


@pytest.mark.parametrize("words", [
    "Yes", "no: never {this}", "- dash & 'quotes' \"both\" #1", "두 바퀴를 고정", "and or not"])
def test_any_words_can_be_written_down(tmp_path: Path, words: str) -> None:
    path = tmp_path / "odd.yaml"
    done = interview(path, f"{words}\n{words}\nn\nn\n{words}\n{words}\n{words}\nn\nn\n\n\n1\n"
                           f"{words} so\n{words} not so\n\n")
    assert done.exit_code == 0, done.output
    made = load_checklist(path)
    assert made.title == words and len(made.order) == 2
    assert made.steps[made.order[0]].do.rstrip(".") == words.rstrip(".")


def test_giving_up_half_way_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "half.yaml"
    done = interview(path, "Camp kitchen\nSet the stove\n")
    assert done.exit_code == 1 and "Aborted" in done.output
    assert not path.exists()


@pytest.mark.parametrize(("name", "said"), [
    ("kitchen.txt", "does not end in .yaml"), ("none/kitchen.yaml", "there is no folder"),
    ("there.yaml", "exists already")])
def test_a_place_that_cannot_be_used_is_told_before_any_question(
    tmp_path: Path, name: str, said: str
) -> None:
    (tmp_path / "there.yaml").write_text("title: mine\n")
    done = interview(tmp_path / name, "")
    assert done.exit_code == 2 and said in done.output and "Traceback" not in done.output
    assert (tmp_path / "there.yaml").read_text() == "title: mine\n"
