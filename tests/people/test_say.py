"""A checklist read aloud: every spoken string, as it is said."""

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from handsfree.audio import level_dbfs, seconds
from handsfree.cli import main
from handsfree.sound.files import read_sound

LIST = """\
title: Trial
says: I advise.
closing: Rest at 5 pm.
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are loose}
never:
  - {id: roll, when: not hitched and not chocked, because: it would roll, now: Keep clear,
     respond: wheels are held, gives: chocked}
remedies:
  air:
    says: Too soft.
    steps: [{id: pump, do: Pump it to 50 psi., detail: Through the 3/4 in hose.}]
    gives up: {says: Do not tow.}
steps:
  - {id: chock, do: Chock both wheels, respond: chocks set, gives: chocked, why: It holds.,
     caution: Mind your 2 hands}
  - {id: tyre, do: Read the tyre, reading: {of: psi, at least: 48}, if it fails: air}
  - {id: away, do: Pull away, needs: chocked, ends: hitched}
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "trial.yaml"
    path.write_text(LIST, encoding="utf-8")
    return path


def say(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["say", *arguments])


def test_everything_spoken_is_printed_as_it_is_said(path: Path) -> None:
    done = say(str(path), "--text")
    assert done.exit_code == 0, done.output
    lines = [tuple(line.split(None, 1)) for line in done.output.splitlines()]
    assert lines == [
        ("opening", "Trial. I advise."),
        ("chock", "Mind your two hands. Chock both wheels. Answer: chocks set."),
        ("chock", "It holds."),
        ("chock", "Chocks set. Is that right?"),
        ("tyre", "Read the tyre. Answer in P S I."),
        ("tyre", "Too soft."),
        ("pump", "Pump it to fifty P S I."),
        ("pump", "Through the three quarter inch hose."),
        ("tyre", "Do not tow."),
        ("away", "Pull away."),
        ("roll", ("Danger! It would roll. Keep clear."
                  " When that is done, answer: wheels are held.")),
        ("hitched", "the trailer is coupled."), ("hitched", "the trailer is free."),
        ("chocked", "the wheels are chocked."), ("chocked", "the wheels are loose."),
        ("closing", "Rest at five P M."),
    ]


def test_it_is_rendered_whole(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "data"))
    out = tmp_path / "trial.wav"
    done = say(str(path), "--step", "away", "--step", "pump", "--wav", str(out))
    assert done.exit_code == 0, done.output
    assert "3 prompts" in done.output
    sound = read_sound(out)
    assert 3 < seconds(sound) < 12 and level_dbfs(sound) > -35
    loud = np.abs(sound.astype(int)) > 300
    quiet = np.diff(np.flatnonzero(np.concatenate(([True], loud, [True]))))
    assert (quiet > 0.5 * 16_000).sum() >= 3, "a pause between prompts"


@pytest.mark.parametrize(("arguments", "said"), [
    (["--step", "chok"], "did you mean 'chock'"),
    (["--text", "--wav", "x.wav"], "give one of them"),
    (["--wav", "none/x.wav"], "there is no folder"),
    (["--rig", "nothing-like-it"], "there is no rig"),
])
def test_bad_input_is_one_sentence(path: Path, arguments: list[str], said: str) -> None:
    done = say(str(path), *arguments)
    assert done.exit_code == 2 and said in done.output
    assert len(done.output.strip().splitlines()) == 1


def test_a_mistake_in_the_file_is_named_with_its_line(path: Path) -> None:
    path.write_text(LIST.replace("needs: chocked", "needs: choked"), encoding="utf-8")
    done = say(str(path), "--text")
    assert done.exit_code == 2 and "trial.yaml, line 19" in done.output
    assert "did you mean 'chocked'" in done.output
