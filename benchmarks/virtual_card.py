"""A private PulseAudio daemon with three null sinks: a sound card that needs no hardware.

`operator` is the sink into which the operator speaks; its monitor is the program's microphone.
`program` is the sink that the program's loudspeaker plays to; its monitor is what the operator
would hear.  `partner` is the sink into which a second operator speaks.  Needs Debian's
pulseaudio, pulseaudio-utils, libasound2-plugins and libportaudio2; `missing` says what lacks.
"""

from __future__ import annotations

import ctypes.util
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np

from handsfree.audio import SAMPLE_RATE, Samples, to_int16
from handsfree.sound.noise import NoiseStream

MICROPHONE = "operator_microphone"
"""Name of the ALSA device that hears what is played into the sink `operator`."""

PARTNER_MICROPHONE = "partner_microphone"
"""The same for the sink `partner`."""

LOUDSPEAKER = "program_loudspeaker"
"""Name of the ALSA device that plays into the sink `program`."""

NO_SOUND = {"PULSE_SERVER": "unix:/nowhere", "ALSA_CONFIG_PATH": "/usr/share/alsa/alsa.conf"}
"""Environment of a machine without a sound card, for processes beside the daemon."""

_ASOUNDRC = """
pcm.{microphone} {{ type pulse device "operator.monitor" }}
pcm.{partner} {{ type pulse device "partner.monitor" }}
pcm.{loudspeaker} {{ type pulse device "program" }}
pcm.!default {{ type pulse }}
ctl.!default {{ type pulse }}
"""

_RAW = ("--raw", "--format=s16le", f"--rate={SAMPLE_RATE}", "--channels=1")


@dataclass(frozen=True)
class Pulse:
    """The running daemon, as seen from this process and from those that it starts."""

    environment: dict[str, str]

    def speak(self, samples: Samples, sink: str = "operator") -> None:
        """Play into an operator's sink from a second process; returns when it is played."""
        subprocess.run(
            ["pacat", "--playback", f"--device={sink}", "--latency-msec=200", *_RAW],
            input=samples.tobytes(), check=True, timeout=60, env=self._env(),
        )

    @contextmanager
    def murmur(self, *sinks: str) -> Iterator[None]:
        """Faint noise for some minutes: a virtual card is digitally silent between two sounds, which
        no real room is, and which the program takes for a muted microphone."""
        noise = to_int16(NoiseStream("pink", 1).read(240 * SAMPLE_RATE) * 0.003)
        playing = [self.speaking(noise, sink) for sink in sinks]
        try:
            yield
        finally:
            for one in playing:
                one.terminate()
                one.wait(10)

    def speaking(self, samples: Samples, sink: str = "operator") -> subprocess.Popen[bytes]:
        """The same without waiting."""
        with tempfile.TemporaryFile() as file:
            file.write(samples.tobytes())
            file.seek(0)
            return subprocess.Popen(
                ["pacat", "--playback", f"--device={sink}", "--latency-msec=200", *_RAW],
                stdin=file, env=self._env(),
            )

    def answered(self, *arguments: str, data: Path, answer: Callable[[str], Samples | None]) -> str:
        """What the program prints in a process of its own, hearing what `answer` says to a line.

        There is a murmur all the while: a virtual card is digitally silent between two sounds,
        which no real room is.
        """
        murmur = self.speaking(to_int16(NoiseStream("pink", 1).read(60 * SAMPLE_RATE) * 0.01))
        process = subprocess.Popen(
            [sys.executable, "-m", "handsfree", *arguments],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            env={**self._env(), "HANDSFREE_DATA": str(data), "PYTHONUNBUFFERED": "1"})
        lines = []
        assert process.stdout is not None
        for line in process.stdout:
            lines.append(line.rstrip())
            words = answer(line)
            if words is not None:
                self.speak(words)
        murmur.terminate()
        murmur.wait(10)
        told = "\n".join(lines)
        assert process.wait(60) == 0, told
        return told

    @contextmanager
    def echo(self, latency_ms: int = 60) -> Iterator[None]:
        """The operator's microphone hears the program's loudspeaker, some 12 dB weaker.

        There is a murmur as well: with the first stream into a sink that nobody played into, its
        delay would jump in the middle of a prompt.
        """
        murmur = self.speaking(to_int16(NoiseStream("pink", 1).read(240 * SAMPLE_RATE) * 0.003))
        loaded = subprocess.run(
            ["pactl", "load-module", "module-loopback", "source=program.monitor", "sink=operator",
             f"latency_msec={latency_ms}", "adjust_time=0"], env=self._env(), check=True, capture_output=True,
            text=True).stdout.strip()
        inputs = subprocess.run(["pactl", "list", "short", "sink-inputs"], env=self._env(),
                                check=True, capture_output=True, text=True).stdout
        for line in inputs.splitlines():
            if "module-loopback" in line:
                subprocess.run(["pactl", "set-sink-input-volume", line.split()[0], "63%"],
                               env=self._env(), check=True)
        try:
            yield
        finally:
            subprocess.run(["pactl", "unload-module", loaded], env=self._env(), check=True)
            murmur.terminate()
            murmur.wait(10)

    def recording(self, sink: str = "program") -> Recording:
        """Record what is played into a sink, from a second process, until it is stopped.

        Returns when sound has begun to arrive.
        """
        file = tempfile.TemporaryFile()  # noqa: SIM115, closed when it is stopped
        process = subprocess.Popen(
            ["pacat", "--record", f"--device={sink}.monitor", "--latency-msec=200", *_RAW],
            stdout=file, env=self._env(),
        )
        until = time.monotonic() + 10
        while not os.fstat(file.fileno()).st_size and time.monotonic() < until:
            time.sleep(0.02)
        return Recording(process, file)

    def _env(self) -> dict[str, str]:
        return {**os.environ, **self.environment}


@dataclass
class Recording:
    """What a sink plays, as it is being recorded."""

    process: subprocess.Popen[bytes]
    file: IO[bytes]

    def stop(self) -> Samples:
        """End it and give back the sound."""
        self.process.terminate()
        self.process.wait(10)
        with self.file:
            self.file.seek(0)
            return np.frombuffer(self.file.read(), dtype=np.int16)


def missing() -> str:
    """What this machine lacks for it, or ""."""
    for program, package in (("pulseaudio", "pulseaudio"), ("pacat", "pulseaudio-utils")):
        if not shutil.which(program):
            return f"{program} is not installed (Debian: {package})"
    if not ctypes.util.find_library("portaudio"):
        return "PortAudio is not installed (Debian: libportaudio2)"
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's plugin for PulseAudio is not installed (Debian: libasound2-plugins)"
    return ""


@contextmanager
def virtual_card() -> Iterator[Pulse]:
    """The daemon, with a runtime folder of its own, until it is left.

    Raises:
        RuntimeError: it did not start.
    """
    # A short path: a socket's may have 107 characters.
    with tempfile.TemporaryDirectory(prefix="pa-", dir="/tmp") as folder:
        running = Path(folder)
        asoundrc = running / "asoundrc"
        asoundrc.write_text(_ASOUNDRC.format(
            microphone=MICROPHONE, partner=PARTNER_MICROPHONE, loudspeaker=LOUDSPEAKER))
        socket = running / "native"
        environment = {
            "HOME": folder,
            "XDG_RUNTIME_DIR": folder,
            "PULSE_RUNTIME_PATH": folder,
            "PULSE_STATE_PATH": folder,
            "PULSE_SERVER": f"unix:{socket}",
            "ALSA_CONFIG_PATH": f"/usr/share/alsa/alsa.conf:{asoundrc}",
        }
        form = f"format=s16le rate={SAMPLE_RATE} channels=1"
        daemon = subprocess.Popen(
            ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
             "--disable-shm=yes", "--log-target=file:" + str(running / "log"),
             f"--load=module-null-sink sink_name=operator {form}",
             f"--load=module-null-sink sink_name=program {form}",
             f"--load=module-null-sink sink_name=partner {form}",
             f"--load=module-native-protocol-unix socket={socket} auth-anonymous=1"],
            env={**os.environ, **environment}, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        try:
            everything = {**os.environ, **environment}
            _await(daemon, everything, running / "log")
            for default in (("set-default-sink", "program"),
                            ("set-default-source", "operator.monitor")):
                subprocess.run(["pactl", *default], env=everything, check=True)
            yield Pulse(environment)
        finally:
            daemon.terminate()
            daemon.wait(10)


def _await(daemon: subprocess.Popen[bytes], environment: dict[str, str], log: Path) -> None:
    until = time.monotonic() + 20
    while subprocess.run(["pactl", "info"], env=environment, capture_output=True,
                         check=False).returncode:
        if daemon.poll() is not None or time.monotonic() > until:
            raise RuntimeError(
                f"pulseaudio did not start: {log.read_text() if log.exists() else ''}")
        time.sleep(0.1)
