"""A service manager is told that the program is ready and alive, and nothing else is opened."""

import socket
import sys
from pathlib import Path

import pytest

from handsfree.standby.service_notify import Notifier
from tests.faults.test_privacy import without_network


@pytest.fixture
def manager(tmp_path: Path):  # type: ignore[no-untyped-def]
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as one:
        one.bind(str(tmp_path / "notify"))
        one.setblocking(False)
        yield one


def told(manager: socket.socket) -> list[str]:
    found = []
    while True:
        try:
            found.append(manager.recv(200).decode())
        except BlockingIOError:
            return found


def test_it_is_ready_with_the_first_frame_and_fed_while_frames_arrive(
    manager: socket.socket, tmp_path: Path
) -> None:
    notifier = Notifier({"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "30000000"})
    assert told(manager) == []
    notifier.turned(True, 0.0)
    assert told(manager) == ["READY=1", "STATUS=Standing by.", "WATCHDOG=1"]
    for n in range(1, 500):
        notifier.turned(True, n * 0.02)
    assert told(manager) == []
    notifier.turned(True, 10.0)
    assert told(manager) == ["WATCHDOG=1"]
    notifier.turned(False, 15.0)
    assert told(manager) == ["STATUS=Waiting for a microphone."]
    notifier.close()
    assert told(manager) == ["STOPPING=1"]


def test_a_loop_that_stands_still_is_not_fed(manager: socket.socket, tmp_path: Path) -> None:
    notifier = Notifier({"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "30000000"})
    notifier.turned(True, 0.0)
    told(manager)
    assert told(manager) == []  # no frame, no sign of life, however long it is


@pytest.mark.parametrize("environ", [
    {}, {"NOTIFY_SOCKET": ""}, {"NOTIFY_SOCKET": "vsock:2:1234"},
    {"NOTIFY_SOCKET": "relative/path"}, {"WATCHDOG_USEC": "1000000"}])
def test_without_a_manager_no_socket_is_opened(
    environ: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_socket(*args: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", no_socket)
    notifier = Notifier(environ)
    notifier.turned(True, 0.0)
    notifier.close()


def test_a_manager_that_has_gone_does_not_matter(tmp_path: Path) -> None:
    notifier = Notifier({"NOTIFY_SOCKET": str(tmp_path / "nobody"), "WATCHDOG_USEC": "nonsense"})
    notifier.turned(True, 0.0)
    notifier.close()
    notifier.close()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux's kernel sees other processes")
def test_standing_by_opens_no_socket(tmp_path: Path) -> None:
    done = without_network(
        "-c", "import io, sys; sys.stdin = io.StringIO('hello trailer\\nhelp\\n');"
        " sys.argv = ['handsfree', 'stand-by', '--text'];"
        " from handsfree.cli import main; main()", data=tmp_path)
    assert done.returncode == 0 and "You can say" in done.stdout, done.stderr
