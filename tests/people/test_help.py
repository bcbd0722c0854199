"""Help, completion and exit statuses: what a newcomer meets before any voice."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from handsfree.cli import main


def commands(group: click.Group, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Every command and its path of names."""
    ctx = click.Context(group)
    for name in group.list_commands(ctx):
        command = group.get_command(ctx, name)
        yield (*path, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*path, name))


@pytest.mark.parametrize("path", list(commands(main)), ids=" ".join)
def test_every_command_explains_itself_and_each_option(path: tuple[str, ...]) -> None:
    done = CliRunner().invoke(main, [*path, "--help"])
    assert done.exit_code == 0, done.output
    command: click.Command = main
    for name in path:
        assert isinstance(command, click.Group)
        found = command.get_command(click.Context(command), name)
        assert found is not None
        command = found
    words = (command.help or "").split()
    assert len(words) >= 4 and words[0][0].isupper(), "a sentence that says what it does"
    for parameter in command.params:
        if isinstance(parameter, click.Option) and not parameter.hidden:
            assert parameter.help, (path, parameter.name)


def complete(words: str, folder: Path) -> list[str]:
    """What a shell would offer after these words."""
    parts = words.split(" ")
    done = subprocess.run(
        [sys.executable, "-c", "from handsfree.cli import main; main(prog_name='handsfree')"],
        env={**os.environ, "_HANDSFREE_COMPLETE": "bash_complete", "COMP_WORDS": words,
             "COMP_CWORD": str(len(parts) - 1), "HANDSFREE_DATA": str(folder)},
        capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    return [line.split(",", 1)[1] for line in done.stdout.splitlines()]


def test_the_shell_completes_commands_checklists_and_rigs(tmp_path: Path) -> None:
    own = tmp_path / "checklists"
    own.mkdir()
    (own / "archery.yaml").write_text("")
    assert complete("handsfree re", tmp_path) == ["rehearse", "review"]
    assert complete("handsfree run ar", tmp_path) == ["archery", "arrive"]
    assert "survey-trailer" in complete("handsfree run arrive --rig s", tmp_path)
    assert "--no-screen" in complete("handsfree run --no", tmp_path)


@pytest.mark.parametrize(("arguments", "status"), [
    (["--version"], 0), (["schema"], 0), (["run"], 2), (["no-such-command"], 2),
    (["say", "no-such-list"], 2), (["run", "arrive", "--rig", "none-such"], 2)])
def test_exit_statuses(
    arguments: list[str], status: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == status, done.output
    assert "Traceback" not in done.output


def test_the_statuses_are_told_where_one_looks_first() -> None:
    text = " ".join(CliRunner().invoke(main, ["--help"]).output.split())
    for words in ("0 done", "1 a finding", "2 bad input", "3 a sound device", "4 the record"):
        assert words in text
