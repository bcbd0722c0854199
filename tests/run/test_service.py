"""`handsfree service`: the unit that it writes, and what runs from it, told to a manager."""

import os
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.cli import main
from handsfree.cli.service import _verified
from handsfree.storage.paths import checklists_folder
from tests.pulse import LOUDSPEAKER, MICROPHONE, Pulse, pulse  # noqa: F401


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home with one rig, and a systemctl that only writes down what it is asked."""
    tools = tmp_path / "bin"
    tools.mkdir()
    fake = tools / "systemctl"
    fake.write_text(f'#!/bin/sh\necho "$@" >> {tmp_path}/asked\n'
                    f'if [ "$2" = is-active ]; then cat {tmp_path}/state; exit $(cat {tmp_path}/rc); fi\n')
    fake.chmod(0o755)
    (tmp_path / "state").write_text("active\n")
    (tmp_path / "rc").write_text("0")
    (tmp_path / "my data" / "rigs").mkdir(parents=True)
    shutil.copy(checklists_folder() / "rigs" / "small-single.yaml", tmp_path / "my data" / "rigs")
    monkeypatch.setenv("PATH", f"{tools}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path / "my data"))
    return tmp_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["service", *arguments])


def unit_of(home: Path) -> Path:
    return home / "config" / "systemd" / "user" / "handsfree.service"


def test_installed_looked_at_and_removed(home: Path) -> None:
    assert run("status").exit_code == 1
    done = run("install", "--mic", "USB Headset: Audio (hw:1,0)", "--call", "wake up wagon")
    assert done.exit_code == 0, done.output
    text = unit_of(home).read_text("utf-8")
    for line in ("Type=notify", "WatchdogSec=30", "Restart=always", "ProtectSystem=strict",
                 f'ReadWritePaths="{home}/my data" -%t', f'Environment="HANDSFREE_DATA={home}/my data"',
                 "WantedBy=default.target"):
        assert line in text.splitlines(), text
    assert '"--mic" "USB Headset: Audio (hw:1,0)" "--call" "wake up wagon"' in text
    assert (home / "asked").read_text().splitlines()[-3:] == [
        "--user daemon-reload", "--user enable handsfree.service",
        "--user restart handsfree.service"]
    assert "State: active" in run("status").output
    (home / "rc").write_text("3")
    (home / "state").write_text("failed\n")
    status = run("status")
    assert status.exit_code == 1 and "journalctl" in status.output
    assert run("remove").exit_code == 0 and not unit_of(home).exists()
    again = run("remove")
    assert again.exit_code == 2 and again.output.count("\n") == 1


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd-analyze is not installed")
def test_systemd_finds_no_fault_with_the_unit(home: Path) -> None:
    done = run("install", "--place", 'a "quiet" spot, 5% slope, $HOME')
    assert done.exit_code == 0 and "finds fault with it" not in done.output
    good = unit_of(home).read_text("utf-8")
    for right, wrong in (("Type=notify", "Type=nonsense"), ("WatchdogSec=30", "Watchdog=30"),
                         ("PrivateUsers=yes", "PrivateUsers=perhaps")):
        unit_of(home).write_text(good.replace(right, wrong), encoding="utf-8")
        assert "handsfree.service" in _verified(unit_of(home)), wrong  # it would have told
    unit_of(home).write_text(good, encoding="utf-8")
    assert _verified(unit_of(home)) == ""


READ_ONLY = """
mount --bind "$HANDSFREE_DATA" "$HANDSFREE_DATA" && mount --bind "$TMPDIR" "$TMPDIR" &&
mount -o remount,ro,bind / || exit 77
! touch "$OUTSIDE" 2>/dev/null || exit 77
exec "$0" -c "$1"
"""

NIGHT = """
import io, sys
from handsfree.cli import main
from handsfree.cli.service import _verified
from handsfree.cli import wiring
from handsfree.language.loader import load_language
from handsfree.storage.paths import data_folder
with wiring.sounds(load_language("en"), data_folder()) as sounds:
    assert len(sounds.get("Ready.")) > 5000
sys.stdin = io.StringIO("hello trailer\\nstart evening\\nready for the road\\n"
                        + "that is right\\n" * 9 + "finish for now\\nhello trailer\\nnote one\\n")
sys.argv = ["handsfree", "stand-by", "--text"]
main()
"""


@pytest.mark.skipif(not shutil.which("unshare"), reason="unshare is not installed")
def test_it_writes_to_its_data_folder_and_nowhere_else(home: Path) -> None:
    """The whole system read-only, but for that folder and one for temporary files."""
    (home / "tmp").mkdir()
    done = subprocess.run(
        ["unshare", "-m", "sh", "-c", READ_ONLY, sys.executable, NIGHT], text=True,
        capture_output=True, timeout=200, check=False,
        env={**os.environ, "TMPDIR": str(home / "tmp"), "OUTSIDE": str(home / "outside"),
             "PYTHONDONTWRITEBYTECODE": ""})
    if done.returncode == 77 or "Operation not permitted" in done.stderr:
        pytest.skip("mount namespaces are not allowed here")
    assert done.returncode == 0 and "Saved." in done.stdout, done.stdout + done.stderr
    assert not list((home / "tmp").iterdir())


@pytest.mark.parametrize("arguments", [
    ("--call", "hey"), ("--rig", "nobodys"), ("--mic", "two\nlines")])
def test_what_would_fail_at_power_on_is_refused_now(home: Path, arguments: tuple[str, ...]) -> None:
    done = run("install", *arguments)
    assert done.exit_code == 2 and done.output.count("\n") == 1, done.output
    assert not unit_of(home).exists()


def test_where_it_cannot_be_started_it_says_what_to_type(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (home / "bin" / "systemctl").write_text(
        "#!/bin/sh\necho 'Failed to connect to bus: No medium found' >&2\nexit 1\n")
    done = run("install")
    assert done.exit_code == 1 and "systemctl --user enable --now" in done.output
    assert unit_of(home).exists()


def test_without_systemd_it_is_one_sentence(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(home))
    done = run("install")
    assert done.exit_code == 2 and "no systemd" in done.output


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as one:
        one.bind(str(tmp_path / "n"))
        one.settimeout(1.0)
        yield one


def messages(manager: socket.socket, limit: float, wanted: str = "") -> list[str]:
    """What arrives within so many seconds, or until what is wanted."""
    found: list[str] = []
    until = time.monotonic() + limit
    while time.monotonic() < until and (not wanted or wanted not in found):
        try:
            found.append(manager.recv(200).decode())
        except TimeoutError:
            continue
    return found


def test_what_the_unit_starts_is_ready_fed_and_stops_when_asked(
    home: Path, manager: socket.socket, pulse: Pulse  # noqa: F811
) -> None:
    assert run("install", "--mic", MICROPHONE, "--speaker", LOUDSPEAKER).exit_code == 0
    line = next(line for line in unit_of(home).read_text().splitlines()
                if line.startswith("ExecStart="))
    process = subprocess.Popen(
        shlex.split(line.removeprefix("ExecStart=")), stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={**os.environ, **pulse.environment, "NOTIFY_SOCKET": str(home / "n"),
             "WATCHDOG_USEC": "3000000", "PYTHONUNBUFFERED": "1"})
    lines: list[str] = []
    threading.Thread(target=lambda: lines.extend(process.stdout), daemon=True).start()
    try:
        assert "READY=1" in messages(manager, 60, "READY=1")
        assert "WATCHDOG=1" in messages(manager, 10, "WATCHDOG=1")
        until = time.monotonic() + 60
        while not any("Ready" in line for line in lines):
            assert time.monotonic() < until, lines
            messages(manager, 0.5)
        process.send_signal(signal.SIGSTOP)  # it hangs
        messages(manager, 2)
        assert "WATCHDOG=1" not in messages(manager, 3)
        process.send_signal(signal.SIGCONT)
        assert "WATCHDOG=1" in messages(manager, 10, "WATCHDOG=1")
        process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0
    finally:
        process.kill()
    assert "Good-bye" in "".join(lines), lines
    assert "STOPPING=1" in messages(manager, 2)
