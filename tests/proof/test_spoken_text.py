"""What `check` says of a checklist as something spoken; each rule's source is in `spoken_text`."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main

GOOD = """\
title: Tiny
facts:
  chocked: the wheels are chocked
steps:
  - {id: chock, do: Chock the wheels., respond: chocks set, gives: chocked, must: yes}
  - {id: gauge, do: Read the gauge., needs: chocked, reading: {of: psi, at most: 60},
     if no: Let it off.}
  - {id: mat, do: Lay the mat out., needs: chocked}
closes when: chocked
"""


def checked(folder: Path, text: str) -> tuple[int, str]:
    path = folder / "list.yaml"
    path.write_text(text, encoding="utf-8")
    done = CliRunner().invoke(main, ["check", "--alone", str(path)])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, " ".join(done.output.split())


def test_a_good_file_is_clean(tmp_path: Path) -> None:
    status, output = checked(tmp_path, GOOD)
    assert status == 0, output


@pytest.mark.parametrize("old, new, said", [
    ("do: Lay the mat out.",
     "do: Lay the mat out in front of the door and then put the chairs on it.", "16 words"),
    ("do: Lay the mat out.", "do: Chock the wheels again.", "begin with the same words"),
    ("do: Lay the mat out.", "do: Do not leave no gap.", "'not' and 'no' in one clause"),
    ("do: Lay the mat out.", "do: Read the thermometer.", "no limits to judge it by"),
    ("respond: chocks set", "respond: skip it", "sounds like"),
])
def test_a_fault_is_named_with_its_line(tmp_path: Path, old: str, new: str, said: str) -> None:
    assert old in GOOD
    status, output = checked(tmp_path, GOOD.replace(old, new))
    assert status == 1 and said in output and "line " in output, output
