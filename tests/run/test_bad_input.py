"""Whatever is wrong with the input: one sentence, exit status 2, and nothing lost."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.cli import main

GOOD = """\
title: Tiny
facts:
  chocked: the wheels are chocked
steps:
  - {id: chock, do: Chock the wheels., respond: chocks set, gives: chocked}
  - {id: gauge, do: Read the gauge., needs: chocked, reading: {of: psi, at most: 60}}
"""


def handsfree(folder: Path, *words: str) -> Result:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("HANDSFREE_DATA", str(folder / "data"))
        return CliRunner().invoke(main, words)


def rehearse(folder: Path, text: str, *more: str) -> Result:
    (folder / "list.yaml").write_text(text, encoding="utf-8")
    return handsfree(folder, "rehearse", "--fast", *more, "list.yaml")


def refused(done: Result, *said: str) -> None:
    assert done.exit_code == 2, (done.exit_code, done.output, done.exception)
    message = done.stderr.strip()
    assert message.startswith("handsfree: ") and message.count("\n") == 0
    assert message[-1] in ".?"
    for words in said:
        assert words in message, message


def test_the_exit_status_is_that_of_the_process_too(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, "-m", "handsfree", "rehearse", "arive"],
                          capture_output=True, text=True, cwd=tmp_path, timeout=60)
    assert done.returncode == 2 and "Traceback" not in done.stderr


def test_an_unknown_checklist(tmp_path: Path) -> None:
    refused(handsfree(tmp_path, "rehearse", "--fast", "arive"), "'arive'", "did you mean 'arrive'")
    refused(handsfree(tmp_path, "run", "arive", "--rig", "small-single"), "'arive'")
    refused(handsfree(tmp_path, "run", "no/such.yaml", "--rig", "small-single"), "no/such.yaml")


@pytest.mark.parametrize("bad, said", [
    ("just words\n", ("list.yaml", "not a checklist", "start with 'title")),
    ("title: x\nsteps: [\n", ("list.yaml", "line ", "not valid YAML")),
    (GOOD.replace("id: gauge", "id: chock"), ("line 6", "'chock' is used a second time")),
    (GOOD.replace("needs: chocked", "needs: choked"), ("line 6", "did you mean 'chocked'")),
    (GOOD.replace("of: psi, ", ""), ("line 6", "'of' is missing")),
    (GOOD.replace("of: psi, at most: 60", "of: psi"), ("line 6", "no limits")),
    (GOOD.replace("of: psi", "of: furlongs"), ("line 6", "'furlongs' is no unit")),
])
def test_a_file_that_is_no_good_checklist(tmp_path: Path, bad: str, said: tuple[str, ...]) -> None:
    refused(rehearse(tmp_path, bad), *said)


def test_a_model_folder_that_is_no_model(tmp_path: Path) -> None:
    (tmp_path / "model").mkdir()
    refused(rehearse(tmp_path, GOOD, "--engine", "vosk", "--model", "model"), "model")
    refused(rehearse(tmp_path, GOOD, "--engine", "vosk", "--model", "none"), "none")


def test_a_script_with_words_that_no_phrase_covers(tmp_path: Path) -> None:
    (tmp_path / "script.yaml").write_text("title: T\nat:\n  chock: [sing a song]\n")
    refused(rehearse(tmp_path, GOOD, "--script", "script.yaml"), "script.yaml", "line 3",
            "no phrase covers 'sing a song'")
    (tmp_path / "script.yaml").write_text("title: T\nat:\n  chok: [done]\n")
    refused(rehearse(tmp_path, GOOD, "--script", "script.yaml"), "did you mean 'chock'")
    refused(rehearse(tmp_path, GOOD, "--script", "none.yaml"), "none.yaml")


def test_a_data_directory_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    refused(rehearse(tmp_path, GOOD, "--record", "file/below"), "cannot be written")


def test_an_unknown_noise_or_rig(tmp_path: Path) -> None:
    refused(rehearse(tmp_path, GOOD, "--noise", "thunder.wav"), "thunder.wav")
    refused(rehearse(tmp_path, GOOD, "--rig", "fith-wheel"), "did you mean 'fifth-wheel'")


def test_nothing_to_resume(tmp_path: Path) -> None:
    refused(rehearse(tmp_path, GOOD, "--resume"), "no unfinished session")
