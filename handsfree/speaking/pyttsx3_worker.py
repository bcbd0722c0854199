"""The process in which pyttsx3 runs, so that a hang or crash of the engine stays there.

A script, run by `handsfree.speaking.pyttsx3_voice` and imported by nobody.  May import the
standard library, pyttsx3 and espeakng_loader, nothing of ours: it must start fast.

Talks over its standard input and output in frames: four bytes of length (little-endian), then so
many bytes of JSON.  After the start it sends ``{"ready": true}`` or ``{"fault": why}``; then for
each ``{"text", "file", "language", "variant", "rate", "volume", "limit"}`` one of
``{"done": true}``, ``{"unknown": voice}`` or ``{"fault": why}``.  It ends when its input ends.

On Linux each text is rendered in a fork of this process.  espeak-ng carries its oscillators'
phases from one text to the next and has no way to reset them, so only an engine that has said
nothing yet says the same text in the same samples.  It also means that an engine that crashes or
hangs takes nobody with it.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib
import json
import os
import queue
import signal
import struct
import sys
import threading
import wave
from collections.abc import Callable
from typing import IO, Any

Frame = dict[str, Any]

PR_SET_PDEATHSIG = 1  # from linux/prctl.h
ESPEAK_RATE = 22_050
"""Hz, of all espeak-ng's own voices."""


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


class Renderer:
    """pyttsx3's engine, and one way through it."""

    def __init__(self) -> None:
        import pyttsx3

        self._engine = pyttsx3.init()
        self._errors: list[str] = []
        self._engine.connect("error", self._note)

    def _note(self, name: str | None, exception: BaseException) -> None:
        self._errors.append(str(exception))

    def render(self, request: Frame) -> Frame:
        """Render one text into one file."""
        voice = self.voice_id(request["language"], request["variant"])
        if not voice:
            return {"unknown": f"{request['language']} {request['variant']}".strip()}
        self._errors.clear()
        self.sound_like(voice, request["rate"], request["volume"])
        self.speak(request["text"], request["file"])
        if not self.took(voice):
            return {"unknown": voice}
        if self._errors:
            return {"fault": self._errors[0]}
        if not os.path.exists(request["file"]):
            return {"fault": "it wrote no sound"}
        return {"done": True}

    def voice_id(self, language: str, variant: str) -> str:
        """The engine's name for a voice, empty where it has none."""
        for voice in self._engine.getProperty("voices"):
            if variant and variant.lower() in (voice.id.lower(), (voice.name or "").lower()):
                return str(voice.id)
            tags = " ".join([str(voice.id), *map(str, voice.languages or [])]).lower()
            if not variant and language.lower() in tags.replace("_", "-"):
                return str(voice.id)
        return ""

    def sound_like(self, voice: str, rate: int, volume: float) -> None:
        """Set the voice, words a minute, and volume from 0 to 1."""
        self._engine.setProperty("voice", voice)
        self._engine.setProperty("rate", rate)
        self._engine.setProperty("volume", volume)

    def took(self, voice: str) -> bool:
        """Whether the engine speaks with the voice that it was told to use."""
        return True

    def speak(self, text: str, file: str) -> None:
        """Write the text's sound.  What fails in pyttsx3's queue is not raised but told to `_note`."""
        self._engine.save_to_file(text, file)
        self._engine.runAndWait()


class EspeakRenderer(Renderer):
    """The same with espeak-ng, set up by pyttsx3 and spoken without its queue.

    Where espeak-ng has a thread, rate and volume are set in it and the voice in ours, so that without
    waiting one may undo the other.  Where it was built without (the package's library for aarch64),
    it never tells that a text is over, for which pyttsx3's queue would wait for ever; so what comes
    until `Synchronize` returns is the text, either way.
    """

    def __init__(self) -> None:
        super().__init__()
        from pyttsx3.drivers import _espeak

        self._espeak = _espeak

    def voice_id(self, language: str, variant: str) -> str:
        """espeak-ng's name, known or not: `took` tells."""
        return f"{language}+{variant.lower()}" if variant else language

    def sound_like(self, voice: str, rate: int, volume: float) -> None:
        """Set one after the other, each done before the next."""
        self._engine.proxy.setBusy(False)  # so that pyttsx3 sets at once what it would queue
        for name, value in (("voice", voice), ("rate", rate), ("volume", volume)):
            self._espeak.Synchronize()
            self._engine.setProperty(name, value)
        self._espeak.Synchronize()
        # Breathy speakers draw random numbers, by default from a clock.  Old engines lack this.
        with contextlib.suppress(AttributeError):
            self._espeak.dll.espeak_ng_SetRandSeed(ctypes.c_long(1))

    def took(self, voice: str) -> bool:
        """espeak-ng refuses a language aloud and forgets a variant silently."""
        if any("SetVoiceByName" in error for error in self._errors):
            return False
        speaker = voice.partition("+")[2]
        return not speaker or self._engine.getProperty("voice").endswith(f"+{speaker}")

    def speak(self, text: str, file: str) -> None:
        """Gather the samples and write them."""
        gathered = bytearray()

        def gather(samples: Any, count: int, events: Any) -> int:
            if samples and count > 0:
                gathered.extend(ctypes.string_at(samples, 2 * count))
            return 0  # and go on

        self._espeak.SetSynthCallback(gather)
        self._espeak.Synth(text, flags=self._espeak.ENDPAUSE | self._espeak.CHARS_UTF8)
        self._espeak.Synchronize()
        with wave.open(file, "wb") as written:
            written.setnchannels(1)
            written.setsampwidth(2)
            written.setframerate(ESPEAK_RATE)
            written.writeframes(gathered)


def answer(renderer: Callable[[], Renderer], request: Frame) -> Frame:
    """Render, and turn whatever a driver raises into a fault that the session hears as text."""
    try:
        return renderer().render(request)
    except Exception as error:  # noqa: BLE001
        return {"fault": f"{type(error).__name__}: {error}"}


def answer_in_fork(request: Frame, out: IO[bytes]) -> None:
    """Render in a child that dies of its own at the limit, or together with this process."""
    child = os.fork()
    if not child:
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
        signal.signal(signal.SIGALRM, signal.SIG_DFL)  # ends it even inside the engine's C code
        signal.setitimer(signal.ITIMER_REAL, request["limit"])
        write_frame(out, answer(EspeakRenderer, request))
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
            write_frame(out, answer(lambda: renderer, request))


if __name__ == "__main__":
    main()
