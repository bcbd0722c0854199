"""The device path through a real virtual sound card, and what is said when there is none."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import FRAME, Samples, to_int16
from handsfree.devices import sound_card
from handsfree.devices.sound_card import SoundCardMicrophone, SoundCardSpeaker, device_names
from handsfree.errors import DeviceError
from handsfree.hearing.echo import SPAN
from handsfree.hearing.listening import Listener
from handsfree.hearing.pocketsphinx_engine import SphinxRecogniser
from handsfree.hearing.types import Grammar, Heard, Hypothesis
from tests.hearing.speech import say
from tests.pulse import LOUDSPEAKER, MICROPHONE, Pulse, missing, pulse  # noqa: F401


def hear(microphone: SoundCardMicrophone, listener: Listener, seconds: float) -> Heard | None:
    """The first utterance that arrives within so many seconds of sound."""
    for _ in range(round(seconds * 50)):
        heard = listener.feed(microphone.read())
        if heard is not None:
            return heard
    return None


def tone(hertz: float, seconds: float) -> Samples:
    time_ = np.arange(int(16000 * seconds)) / 16000
    return to_int16(8000 * np.sin(2 * np.pi * hertz * time_))


def test_a_command_from_another_process_is_heard(pulse: Pulse) -> None:  # noqa: F811
    recogniser = SphinxRecogniser({"chocks": "CH AA K S"})
    listener = Listener(recogniser)
    listener.expect(Grammar(frozenset({"chocks set", "repeat that", "what is left"})))
    with SoundCardMicrophone(MICROPHONE) as microphone:
        assert len(microphone.read()) == FRAME
        speaking = pulse.speaking(say("chocks set"))
        heard = hear(microphone, listener, 8)
        speaking.wait(10)
        assert not microphone.overflowed
    assert isinstance(heard, Hypothesis)
    assert heard.text == "chocks set"


def arrives(pulse: Pulse, prompt: Samples) -> bool:  # noqa: F811
    """Whether a prompt comes out of the card sample for sample."""
    with SoundCardSpeaker(LOUDSPEAKER) as speaker:
        recording = pulse.recording()
        speaker.play(prompt)
        assert speaker.playing
        speaker.wait()
        assert not speaker.playing
        time.sleep(0.5)
        heard = recording.stop()
    place = int(np.argmax(np.correlate(heard.astype(float), prompt.astype(float), "valid")))
    return np.array_equal(heard[place : place + len(prompt)], prompt)


def test_at_ease_sound_is_fetched_seldomer_and_none_is_lost(
    pulse: Pulse, monkeypatch: pytest.MonkeyPatch  # noqa: F811
) -> None:
    """What a box asleep saves: it wakes up some five times a second instead of fifty."""
    waits: list[float] = []
    with SoundCardMicrophone(MICROPHONE) as microphone:
        microphone.at_ease = True
        playing = pulse.speaking(tone(440, 2.0))
        monkeypatch.setattr(sound_card, "time", Watched(waits))
        frames = np.concatenate([microphone.read() for _ in range(200)])
        playing.wait(20)
    assert 1 <= len(waits) <= 25, "of 200 frames"
    loud = np.flatnonzero(np.abs(frames.astype(int)) > 4000)
    heard = frames[loud[0]:loud[-1]].astype(float)
    assert len(heard) > 1.9 * 16000 and not microphone.overflowed
    spectrum = np.abs(np.fft.rfft(heard * np.hanning(len(heard)))) ** 2
    near = slice(round(420 / 8000 * len(spectrum)), round(460 / 8000 * len(spectrum)))
    assert spectrum[near].sum() > 0.999 * spectrum.sum(), "a piece that is missing would click"


class Watched:
    """The time module, its sleeps counted."""

    def __init__(self, waits: list[float]) -> None:
        self._waits, self.monotonic = waits, time.monotonic

    def sleep(self, seconds: float) -> None:
        self._waits.append(seconds)
        time.sleep(seconds)


def test_what_the_speaker_plays_arrives_whole(pulse: Pulse) -> None:  # noqa: F811
    prompt = say("chock both wheels")
    # On a machine that is busy with other tests, the virtual card itself may drop a block.
    assert any(arrives(pulse, prompt) for _ in range(3))


def test_stop_cuts_a_prompt_off(pulse: Pulse) -> None:  # noqa: F811
    with SoundCardSpeaker(LOUDSPEAKER) as speaker:
        recording = pulse.recording()
        speaker.play(tone(440, 3))
        time.sleep(1)
        speaker.stop()
        assert not speaker.playing
        time.sleep(0.7)
        heard = recording.stop()
    loud = np.count_nonzero(np.abs(heard) > 100) / 16000
    assert 0.2 < loud < 1.6


def test_what_was_played_is_in_step_with_its_echo(pulse: Pulse) -> None:  # noqa: F811
    """The echo comes behind its reference, and not later than the echo filter reaches."""
    prompt = say("look along the left side of the trailer for branches and stones")
    near, played = [], []
    with pulse.echo(), SoundCardMicrophone(MICROPHONE) as microphone, (
            SoundCardSpeaker(LOUDSPEAKER)) as speaker:
        for _ in range(50):
            microphone.read()
        speaker.play(prompt)
        for _ in range(len(prompt) // FRAME + 25):
            near.append(microphone.read())
            played.append(speaker.reference(microphone.came_at))
    given = np.concatenate(played).astype(float)
    assert np.abs(given).sum() > 0.8 * np.abs(prompt.astype(float)).sum()
    size = 2 * len(given)
    match = np.fft.irfft(np.fft.rfft(np.concatenate(near), size) * np.fft.rfft(given, size).conj())
    assert 0 < int(np.argmax(np.abs(match))) < SPAN * FRAME


def refusing_16_khz(kind: str, patch: pytest.MonkeyPatch) -> None:
    """The same sound card, but it says no to 16 kHz and to one channel."""
    import sounddevice

    real = getattr(sounddevice, kind)

    def stream(**settings: object) -> object:
        if settings["samplerate"] == 16000 or settings["channels"] == 1:
            raise sounddevice.PortAudioError("Invalid sample rate", -9997)
        return real(**settings)

    patch.setattr(sounddevice, kind, stream)


def pitch(sound: Samples) -> float:
    """Frequency of the strongest tone, in hertz at 16 kHz."""
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(len(sound))))
    return float(np.argmax(spectrum) * 16000 / len(sound))


def test_another_rate_is_converted(
    pulse: Pulse, monkeypatch: pytest.MonkeyPatch,  # noqa: F811
) -> None:
    refusing_16_khz("RawInputStream", monkeypatch)
    refusing_16_khz("RawOutputStream", monkeypatch)
    with SoundCardMicrophone(MICROPHONE) as microphone:
        assert (microphone._stream.samplerate, microphone._channels) == (44100, 2)
        speaking = pulse.speaking(tone(440, 3))
        sound = np.concatenate([microphone.read() for _ in range(150)])[-16000:]
        speaking.wait(10)
    assert pitch(sound) == pytest.approx(440, abs=2)
    with SoundCardSpeaker(LOUDSPEAKER) as speaker:
        recording = pulse.recording()
        speaker.play(tone(1000, 1))
        speaker.wait()
        time.sleep(0.5)
        heard = recording.stop()
    begins = int(np.flatnonzero(heard)[0])
    assert pitch(heard[begins + 1600 : begins + 14400]) == pytest.approx(1000, abs=2)


def test_a_card_that_takes_nothing(
    pulse: Pulse, monkeypatch: pytest.MonkeyPatch,  # noqa: F811
) -> None:
    import sounddevice

    def stream(**settings: object) -> object:
        raise sounddevice.PortAudioError("Device unavailable", -9985)

    monkeypatch.setattr(sounddevice, "RawInputStream", stream)
    with pytest.raises(DeviceError, match=r"cannot be used \(Device unavailable\); close other"):
        SoundCardMicrophone(MICROPHONE)


def test_overflow_is_told(pulse: Pulse) -> None:  # noqa: F811
    with SoundCardMicrophone(MICROPHONE) as microphone:
        microphone.read()
        assert not microphone.overflowed
        # Fill the waiting line as if nobody had read for ten seconds.
        for _ in range(600):
            microphone._blocks.put(np.zeros(FRAME, np.int16))
        time.sleep(0.3)
        assert microphone.overflowed


def test_an_unplugged_microphone_is_one_clear_sentence(pulse: Pulse) -> None:  # noqa: F811
    with SoundCardMicrophone(MICROPHONE) as microphone:
        microphone.read()
        microphone._stream.abort()
        with pytest.raises(DeviceError, match="plug it in again"):
            for _ in range(600):
                microphone.read()


def test_an_unplugged_speaker_is_one_clear_sentence(pulse: Pulse) -> None:  # noqa: F811
    with SoundCardSpeaker(LOUDSPEAKER) as speaker:
        speaker._stream.abort()
        with pytest.raises(DeviceError, match="plug it in again"):
            speaker.play(tone(440, 0.1))


def test_an_unknown_device_is_told_with_what_there_is(pulse: Pulse) -> None:  # noqa: F811
    assert MICROPHONE in device_names("input")
    with pytest.raises(DeviceError, match=f"'tin can'.*{MICROPHONE}"):
        SoundCardMicrophone("tin can")


def test_no_device_at_all() -> None:
    """In a process that reaches no PulseAudio, on a machine without a card."""
    lacking = missing()
    cards = Path("/proc/asound/cards")
    if lacking or (cards.exists() and "no soundcards" not in cards.read_text()):
        pytest.skip(lacking or "this machine has a sound card")
    said = run_alone(
        "from handsfree.devices.sound_card import SoundCardMicrophone; SoundCardMicrophone()",
        {"PULSE_SERVER": "unix:/nowhere", "ALSA_CONFIG_PATH": "/usr/share/alsa/alsa.conf"},
    )
    assert "DeviceError: no microphone was found; plug one in" in said


def test_portaudio_missing_names_the_package() -> None:
    """In a process that cannot find the library, as sounddevice itself looks for it."""
    said = run_alone(
        "import ctypes.util, os\n"
        "ctypes.util.find_library = lambda name: None\n"
        "from handsfree.devices.sound_card import SoundCardSpeaker; SoundCardSpeaker()",
        {},
    )
    assert "DeviceError: the sound library PortAudio is missing" in said
    assert "libportaudio2" in said


def run_alone(code: str, environment: dict[str, str]) -> str:
    """Last words of a Python process of its own."""
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60,
                         env={**os.environ, **environment}, check=False)
    assert ran.returncode
    return ran.stderr


def test_alsas_own_lines_stay_off_the_terminal() -> None:
    """Under load the terminal was full of 'ALSA lib pcm.c: ... underrun occurred'."""
    code = ("import ctypes\nfrom handsfree.devices import sound_card\n{}"
            "alsa, pcm = ctypes.CDLL('libasound.so.2'), ctypes.c_void_p()\n"
            "alsa.snd_pcm_open(ctypes.byref(pcm), b'no-such-card', 0, 0)\n")

    def told(quiet: str) -> str:
        done = subprocess.run([sys.executable, "-c", code.format(quiet)], capture_output=True, text=True, timeout=60)
        return done.stderr

    if "no-such-card" not in told(""):
        pytest.skip("ALSA is not installed, or says nothing")
    assert told("sound_card._quieten_alsa()\n") == ""
