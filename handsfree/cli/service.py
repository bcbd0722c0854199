"""`handsfree service`: stand by from power-on, as a systemd service of the user."""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import click

from handsfree.cli.engines import engine_option
from handsfree.errors import InputError, StorageError
from handsfree.storage.paths import data_folder

UNIT = "handsfree.service"

WATCHDOG = 30
"""Seconds without a sign of life after which systemd starts it anew."""

_TEXT = """\
# Written by 'handsfree service install'; 'handsfree service remove' deletes it.
[Unit]
Description=handsfree stands by for its call
After=pipewire-pulse.service pulseaudio.service sound.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={command}
Environment={data}
Environment=PYTHONUNBUFFERED=1
WatchdogSec={watchdog}
Restart=always
RestartSec=3
TimeoutStartSec=180
TimeoutStopSec=30
# Everything is read-only, but for one folder and what a sound server needs.
PrivateUsers=yes
ProtectSystem=strict
ProtectHome=read-only
PrivateTmp=yes
ReadWritePaths={folder} -%t
NoNewPrivileges=yes

[Install]
WantedBy=default.target
"""


@click.group()
def service() -> None:
    """Stand by from power-on: 'handsfree stand-by' as a systemd service of yours."""


@service.command()
@click.option("--rig", default=None, metavar="NAME", help="Rig file, if you have several.")
@click.option("--place", default="", help="Where you are; otherwise you are asked when it matters.")
@click.option("--call", multiple=True, metavar="PHRASE", help="What wakes it.")
@click.option("--mic", default=None, metavar="DEVICE",
              help="Microphone, by name; it is waited for, and found again if it was unplugged.")
@click.option("--speaker", default=None, metavar="DEVICE", help="Output, by name.")
@click.option("--pin", default=None, metavar="GPIO", help="A button on this pin.")
@click.option("--led", default=None, metavar="GPIO", help="A light on this pin.")
@engine_option
@click.option("--print", "only_print", is_flag=True, help="Show the unit, and write nothing.")
def install(
    rig: str | None, place: str, call: tuple[str, ...], mic: str | None, speaker: str | None,
    pin: str | None, led: str | None, engine: str, only_print: bool,
) -> None:
    """Write the service's unit file and start it.

    It says "ready" when it listens; it is started again whenever it ends, or when for half a minute
    no sound has arrived from a microphone that is there.  Everything is read-only to it but the
    data folder.  So that it starts with the machine and nobody has to log in, run once:
    sudo loginctl enable-linger.
    """
    options: list[str] = []
    for name, value in (("--rig", rig), ("--place", place), ("--mic", mic),
                        ("--speaker", speaker), ("--pin", pin), ("--led", led),
                        ("--engine", engine if engine != "auto" else None)):
        options += [name, value] if value else []
    for phrase in call:
        options += ["--call", phrase]
    _try_options(rig, call)
    text = unit([sys.executable, "-m", "handsfree", "stand-by", *options], data_folder().absolute())
    if only_print:
        click.echo(text, nl=False)
        return
    path = _path()
    data_folder().mkdir(parents=True, exist_ok=True, mode=0o700)  # it has to be there to be writable
    _write(path, text)
    click.echo(f"Written: {path}")
    if told := _verified(path):
        click.echo(f"systemd rejects it: {told}", err=True)
        raise SystemExit(1)
    for arguments in (["daemon-reload"], ["enable", UNIT], ["restart", UNIT]):
        rc, told = _systemctl(*arguments)
        if rc:
            click.echo(f"It could not be started ({told}).  On the machine itself, logged in as"
                       f" {getpass.getuser()}: systemctl --user enable --now {UNIT}", err=True)
            raise SystemExit(1)
    click.echo("It runs, and starts when you log in.  To start with the machine: sudo loginctl"
               f" enable-linger {getpass.getuser()}")


@service.command()
def remove() -> None:
    """Stop the service and delete its unit file; your data stays."""
    path = _path()
    if not path.is_file():
        raise InputError(f"there is no service ({path}); 'handsfree service install' makes one.")
    _systemctl("disable", "--now", UNIT)
    try:
        path.unlink()
    except OSError as problem:
        raise StorageError(f"{path} cannot be deleted ({problem.strerror}); check its permissions."
                           ) from None
    _systemctl("daemon-reload")
    click.echo(f"Removed: {path}")


@service.command()
def status() -> None:
    """Is it installed, and does it run?

    Exit status 1 if not.
    """
    path = _path()
    if not path.is_file():
        click.echo("Not installed; 'handsfree service install' does that.")
        raise SystemExit(1)
    lines = path.read_text(encoding="utf-8").splitlines()
    command = next((line.removeprefix("ExecStart=") for line in lines
                    if line.startswith("ExecStart=")), "")
    click.echo(f"Installed: {path}\nRuns: {command}")
    rc, state = _systemctl("is-active", UNIT)
    click.echo(f"State: {state or 'unknown'}")
    if rc == 0:
        _, said = _systemctl("show", "--property=StatusText", "--value", UNIT)
        click.echo(said or "Standing by.")
    else:
        click.echo(f"What it said last: journalctl --user --unit {UNIT} --lines 20")
        raise SystemExit(1)


def unit(command: list[str], folder: Path) -> str:
    """The unit file's text.

    Args:
        command: program and arguments.
        folder: the one folder that it writes to.
    """
    return _TEXT.format(command=" ".join(map(_quoted, command)), watchdog=WATCHDOG,
                        data=_quoted(f"HANDSFREE_DATA={folder}").replace("$$", "$"),
                        folder=_quoted(str(folder)).replace("$$", "$"))


def _quoted(argument: str) -> str:
    """An argument as systemd reads it; see systemd.syntax(7) and systemd.service(5), from memory.

    Raises:
        InputError: it has a character that no line can have.
    """
    if not argument.isprintable():
        raise InputError(f"{argument!r} cannot go in a unit file; leave out what is not plain"
                         " character.")
    escaped = argument.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%")
    return '"' + escaped.replace("$", "$$") + '"'


def _try_options(rig: str | None, call: tuple[str, ...]) -> None:
    """Raise InputError now, not at power-on, for what stand-by would refuse."""
    from handsfree.cli.rigs import rig_named
    from handsfree.language.loader import load_language
    from handsfree.standby.phrases import good_call, load_words
    from handsfree.storage.paths import choose_rig

    language = load_language("en")
    for phrase in call:
        good_call(phrase, load_words(language.code), language)
    if rig or any((data_folder() / "rigs").glob("*.yaml")):
        rig_named(choose_rig(rig, data_folder()), data_folder())


def _path() -> Path:
    """Where the unit file of this user belongs.

    Raises:
        InputError: this machine has no systemd.
    """
    if not shutil.which("systemctl"):
        raise InputError("this machine has no systemd; start 'handsfree stand-by' by its own means"
                         " of starting programs.")
    base = os.environ.get("XDG_CONFIG_HOME") or str(Path.home() / ".config")
    return Path(base) / "systemd" / "user" / UNIT


def _write(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(".part")
        part.write_text(text, encoding="utf-8")
        part.replace(path)
    except OSError as problem:
        raise StorageError(f"{path} cannot be written ({problem.strerror}); check the folder's"
                           " permissions.") from None


def _verified(path: Path) -> str:
    """What systemd finds wrong with a unit file; '' for nothing, or where it cannot be asked."""
    if not shutil.which("systemd-analyze"):
        return ""
    with tempfile.TemporaryDirectory() as folder:  # which it wants to know, and leaves empty
        done = subprocess.run(
            ["systemd-analyze", "--user", "verify", str(path)], capture_output=True, text=True,
            check=False, env={"XDG_RUNTIME_DIR": folder, **os.environ})
    about = [line for line in done.stderr.splitlines() if UNIT in line]
    return "; ".join(about)


def _systemctl(*arguments: str) -> tuple[int, str]:
    """Exit status and what it says of the user's services."""
    done = subprocess.run(["systemctl", "--user", *arguments], capture_output=True, text=True,
                          check=False)
    return done.returncode, (done.stdout or done.stderr).strip()
