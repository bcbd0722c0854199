"""A microphone of a real sound server is taken away and given back while a session listens."""

import os
import subprocess
import time

from handsfree.audio import SAMPLE_RATE, seconds
from handsfree.cli.wiring import device
from handsfree.devices.sound_card import SoundCardMicrophone
from handsfree.session.failover import FailoverMicrophone
from handsfree.session.fault_reports import FaultReports
from tests.pulse import MICROPHONE, Pulse, pulse  # noqa: F401


def control(pulse: Pulse, *arguments: str) -> str:  # noqa: F811
    return subprocess.run(["pactl", *arguments], env={**os.environ, **pulse.environment},
                          capture_output=True, text=True, check=True).stdout


def test_a_real_microphone_goes_and_comes_back(pulse: Pulse) -> None:  # noqa: F811
    began = time.monotonic()
    troubles = FaultReports(lambda: time.monotonic() - began)
    news: list[tuple[str, bool]] = []

    def listen(until: str, longest: float = 12.0) -> None:
        end = time.monotonic() + longest
        while time.monotonic() < end:
            assert seconds(ear.read()) == 320 / SAMPLE_RATE
            troubles.mend()
            news.extend((one.part, one.over) for one in troubles.news())
            if until == "a second" and time.monotonic() > end - longest + 1:
                return
            if until == "news" and news:
                return
        raise AssertionError(f"nothing happened: {news}")

    ear = FailoverMicrophone(device(SoundCardMicrophone, MICROPHONE), troubles)
    try:
        listen("a second")
        assert ear.there and news == []
        # Both, or the server would hand the stream over to the other one's monitor.
        for line in control(pulse, "list", "short", "modules").splitlines():
            if "module-null-sink" in line:
                control(pulse, "unload-module", line.split("\t")[0])
        try:
            listen("news")
            assert news == [("microphone", False)]
            news.clear()
            listen("a second")
        finally:
            for name in ("operator", "program"):
                control(pulse, "load-module", "module-null-sink", f"sink_name={name}",
                        "format=s16le", f"rate={SAMPLE_RATE}", "channels=1")
            control(pulse, "set-default-sink", "program")
            control(pulse, "set-default-source", "operator.monitor")
        listen("news", longest=20.0)
        assert news == [("microphone", True)] and ear.there
        listen("a second")
    finally:
        ear.close()
