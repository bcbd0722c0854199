"""The process in which pyttsx3 runs, so that a hang or crash of the engine stays there.

A script, run by `handsfree.speaking.pyttsx3_voice` and imported by nobody.  May import the
standard library, pyttsx3 and espeakng_loader, nothing of ours: it must start fast.

Talks over its standard input and output in frames: four bytes of length (little-endian), then so
many bytes of JSON.  After the start it sends ``{"ready": true}`` or ``{"fault": why}``; then for
each ``{"text", "file", "language", "variant", "rate", "volume", "limit"}`` one of
``{"done": true}``, ``{"unknown": voice}`` or ``{"fault": why}``.  It ends when its input ends.

On Linux each text is rendered in a fork of this process.  espeak-ng carries its oscillators'
phases from one text to the next and has no way to reset them, so only an engine that has said
nothing yet says the same text in the same samples (25 ms more a prompt).  It also means that an
engine that crashes or hangs takes nobody with it.
"""

from __future__ import annotations

import ctypes
import importlib
import json
import os
import queue
import signal
import struct
import sys
import threading
from typing import IO, Any

Frame = dict[str, Any]

PR_SET_PDEATHSIG = 1  # from linux/prctl.h


def load_espeak() -> None:
    """Make pyttsx3 find espeak-ng in the package espeakng-loader, without Debian's.

    The dynamic linker takes a library that is already loaded under the soname that pyttsx3 asks
    for.  A machine where the package has no library for it keeps its own espeak-ng.
    """
    try:
        import espeakng_loader

        ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
        # espeak-ng cuts paths at 160 bytes and then ends the process: a relative one is short.
        os.chdir(espeakng_loader.get_data_path())
        os.environ["ESPEAK_DATA_PATH"] = "."
    except (ImportError, OSError, RuntimeError):
        pass


def read_frame(stream: IO[bytes]) -> Frame | None:
    """The next frame, or None at the end."""
    head = stream.read(4)
    if len(head) < 4:
        return None
    frame: Frame = json.loads(stream.read(struct.unpack("<I", head)[0]))
    return frame


def write_frame(stream: IO[bytes], message: Frame) -> None:
    """Send one frame at once."""
    body = json.dumps(message).encode()
    stream.write(struct.pack("<I", len(body)) + body)
    stream.flush()


def voice_id(engine: Any, driver: str, language: str, variant: str) -> str | None:
    """The engine's name for a voice; None where it has none (espeak-ng says so later)."""
    if driver == "espeak":
        return f"{language}+{variant}" if variant else language
    known = engine.getProperty("voices")
    for voice in known:
        if variant and variant.lower() in (voice.id.lower(), (voice.name or "").lower()):
            return str(voice.id)
    for voice in known:
        tags = " ".join([str(voice.id), *map(str, voice.languages or [])]).lower()
        if not variant and language.lower() in tags.replace("_", "-"):
            return str(voice.id)
    return None


class Renderer:
    """The engine, and one way through it."""

    def __init__(self) -> None:
        import pyttsx3

        self._engine = pyttsx3.init()
        self._driver = str(self._engine)
        self._errors: list[str] = []
        self._engine.connect("error", self._note)

    def _note(self, name: str | None, exception: BaseException) -> None:
        self._errors.append(str(exception))

    def render(self, request: Frame) -> Frame:
        """Render one text into one file."""
        language, variant = request["language"], request["variant"]
        voice = voice_id(self._engine, self._driver, language, variant)
        if voice is None:
            return {"unknown": f"{language} {variant}".strip()}
        self._errors.clear()
        self._engine.setProperty("voice", voice)
        self._engine.setProperty("rate", request["rate"])
        self._engine.setProperty("volume", request["volume"])
        self._engine.save_to_file(request["text"], request["file"])
        # The queue runs here; what fails in it is not raised but told to `_note`.
        self._engine.runAndWait()
        if self._kept_old_voice(variant):
            return {"unknown": voice}
        if self._errors:
            return {"fault": self._errors[0]}
        if not os.path.exists(request["file"]):
            return {"fault": "it wrote no sound"}
        return {"done": True}

    def _kept_old_voice(self, variant: str) -> bool:
        """Whether espeak-ng did not take the voice: it refuses a language, forgets a variant."""
        if any("SetVoiceByName" in error for error in self._errors):
            return True
        if self._driver != "espeak" or not variant:
            return False
        return not str(self._engine.getProperty("voice")).endswith(f"+{variant.lower()}")


def answer(renderer: Renderer | None, request: Frame) -> Frame:
    """Render, and turn whatever a driver raises into a fault that the session hears as text."""
    try:
        return (renderer or Renderer()).render(request)
    except Exception as error:  # noqa: BLE001
        return {"fault": f"{type(error).__name__}: {error}"}


def answer_in_fork(request: Frame, out: IO[bytes]) -> None:
    """Render in a child that dies of its own at the limit, or together with this process."""
    child = os.fork()
    if not child:
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
        signal.signal(signal.SIGALRM, signal.SIG_DFL)  # ends it even inside the engine's C code
        signal.setitimer(signal.ITIMER_REAL, request["limit"])
        write_frame(out, answer(None, request))
        os._exit(0)
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if ended == -signal.SIGALRM:
        write_frame(out, {"fault": f"it hung for {request['limit']:.0f} seconds"})
    elif ended:
        write_frame(out, {"fault": f"it crashed with status {ended}"})


def main() -> None:
    """Serve until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the session decides when to end, not Ctrl-C
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # pyttsx3 prints to standard output; keep that out of the frames
    requests: queue.SimpleQueue[Frame] = queue.SimpleQueue()

    def listen() -> None:
        while (request := read_frame(sys.stdin.buffer)) is not None:
            requests.put(request)
        os._exit(0)  # the session is gone: end even when the engine hangs

    threading.Thread(target=listen, daemon=True).start()
    forks = sys.platform.startswith("linux")
    renderer = None
    try:
        if forks:
            load_espeak()
            importlib.import_module("pyttsx3.drivers.espeak")  # once, for all children
        else:
            renderer = Renderer()
    except Exception as error:  # noqa: BLE001
        write_frame(out, {"fault": f"{type(error).__name__}: {error}"})
        return
    write_frame(out, {"ready": True})
    while True:
        request = requests.get()
        if forks:
            answer_in_fork(request, out)
        else:
            write_frame(out, answer(renderer, request))


if __name__ == "__main__":
    main()
