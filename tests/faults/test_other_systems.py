"""What a system without POSIX, or with an old console, has to bear."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

BLOCKED = """
import importlib, pkgutil, sys
GONE = ("fcntl", "termios", "tty", "pty", "pwd", "grp", "resource")
class Gone:
    def find_spec(self, name, path=None, target=None):
        if name in GONE:
            raise ModuleNotFoundError(name)
for name in GONE:
    sys.modules.pop(name, None)
sys.meta_path.insert(0, Gone())
real = open
def refusing(file, *more, **named):
    if str(file).startswith("/proc"):
        raise FileNotFoundError(file)
    return real(file, *more, **named)
import builtins, io
builtins.open = io.open = refusing
import handsfree
for one in pkgutil.walk_packages(handsfree.__path__, "handsfree."):
    if not one.name.endswith("__main__"):
        importlib.import_module(one.name)
sys.argv = ["handsfree", "stand-by", "--text"]
from handsfree.cli import main
main()
"""


def run(data: Path, said: str, *command: str, **more: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([sys.executable, *command], input=said.encode(), capture_output=True,
                          timeout=300, check=False,
                          env={**os.environ, "HANDSFREE_DATA": str(data), **more})


def test_every_module_comes_up_without_posix_and_stand_by_answers(tmp_path: Path) -> None:
    done = run(tmp_path, "hello trailer\nhelp\n", "-c", BLOCKED)
    assert done.returncode == 0, done.stderr.decode()
    assert b"Yes?" in done.stdout


@pytest.mark.parametrize("encoding", ["cp437", "cp1252"])
@pytest.mark.parametrize("language", ["ko", "de"])
def test_what_a_console_cannot_show_is_no_traceback(
    tmp_path: Path, encoding: str, language: str
) -> None:
    done = run(tmp_path, "x\n", "-m", "handsfree", "stand-by", "--text", "--language", language,
               PYTHONIOENCODING=encoding)
    assert done.returncode == 0 and b"Traceback" not in done.stderr, done.stderr
