"""The real voice: it speaks, always the same, and survives an engine that hangs or crashes."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import Samples, level_dbfs, seconds
from handsfree.errors import DeviceError, InputError
from handsfree.speaking import pyttsx3_worker
from handsfree.speaking.operator_voice import OperatorVoice
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import Voice, VoiceOptions

SENTENCE = "Chock both wheels on both sides, then set the parking brake of the truck."
LONG = " ".join([SENTENCE] * 20)
"""A minute and a half of speech: its render takes long enough to be interrupted."""

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")


@pytest.fixture(scope="module")
def voice() -> Iterator[Pyttsx3Voice]:
    with Pyttsx3Voice() as one:
        yield one


def children(pid: int) -> list[int]:
    return list(map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split()))


def alive(pid: int) -> bool:
    """Whether the process exists and is no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def wait_until(true: Callable[[], object], limit: float = 10.0) -> None:
    end = time.monotonic() + limit
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.002)


def pitch(sound: Samples) -> float:
    """Median fundamental in Hz over the louder frames, by autocorrelation."""
    found = []
    frames = [sound[at : at + 640].astype(float) for at in range(0, len(sound) - 640, 320)]
    loud = np.median([np.sqrt(np.mean(f**2)) for f in frames])
    for frame in frames:
        if np.sqrt(np.mean(frame**2)) > loud:
            shape = np.correlate(frame, frame, "full")[639:]
            found.append(16_000 / (40 + int(np.argmax(shape[40:230]))))  # 70 to 400 Hz
    return float(np.median(found))


def test_it_speaks_for_a_plausible_time_and_is_not_silent(voice: Pyttsx3Voice) -> None:
    sound = voice.render(SENTENCE)
    assert sound.dtype == np.int16
    assert sound.ndim == 1
    words_a_minute = len(SENTENCE.split()) / seconds(sound) * 60
    assert 0.6 * voice.options.rate < words_a_minute < 1.6 * voice.options.rate
    assert -30 < level_dbfs(sound) < -10
    # Speech, not a hum: loud and soft parts differ.
    levels = [level_dbfs(sound[at : at + 800]) for at in range(0, len(sound) - 800, 800)]
    assert np.ptp(np.maximum(levels, -60)) > 15


def test_it_starts_and_ends_with_a_breath_only(voice: Pyttsx3Voice) -> None:
    loud = np.flatnonzero(np.abs(voice.render("done").astype(int)) > 100)
    assert loud[0] < 0.1 * 16_000
    assert len(voice.render("done")) - loud[-1] < 0.15 * 16_000


@linux
def test_only_the_packaged_engine_is_mapped(voice: Pyttsx3Voice) -> None:
    """A machine without Debian's espeak-ng needs nothing but `pip install`."""
    voice.start()
    maps = Path(f"/proc/{voice.pid}/maps").read_text().splitlines()
    mapped = {line.split(maxsplit=5)[5] for line in maps if "espeak" in line}
    assert mapped
    assert all("/espeakng_loader/" in path for path in mapped), mapped


@linux
def test_it_speaks_from_a_deep_folder(tmp_path: Path) -> None:
    """espeak-ng alone ends the process when the path of its data is longer than 160 bytes."""
    import espeakng_loader

    deep = tmp_path / ("d" * 90) / ("e" * 90)
    deep.mkdir(parents=True)
    (deep / "espeakng_loader").symlink_to(Path(espeakng_loader.__file__).parent)
    worker = str(pyttsx3_worker.__file__)
    command = ("env", f"PYTHONPATH={deep}", sys.executable, "-P", worker)
    with Pyttsx3Voice(command=command) as voice:
        assert len(voice.render("done")) > 1600


def test_the_session_itself_never_loads_the_engine() -> None:
    code = (
        "import sys; from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice\n"
        "with Pyttsx3Voice() as voice: assert len(voice.render('done'))\n"
        "assert not {'pyttsx3', 'espeakng_loader'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_same_text_same_samples_whatever_was_said_before(voice: Pyttsx3Voice) -> None:
    first = voice.render(SENTENCE)
    voice.render("Something else.")
    assert np.array_equal(voice.render(SENTENCE), first)
    with Pyttsx3Voice() as other:
        assert np.array_equal(other.render(SENTENCE), first)


@pytest.mark.parametrize("variant", ["", "f2", "m3"])
def test_a_render_is_the_same_every_time(variant: str) -> None:
    """A race between rate and voice, or a clock as random seed (f2), shows after a few."""
    with OperatorVoice("en-us", variant, rate=110) as speaker:
        sounds = {speaker.render("done").tobytes() for _ in range(12)}
    assert len(sounds) == 1


def test_a_long_text_is_rendered_whole(voice: Pyttsx3Voice) -> None:
    assert seconds(voice.render(LONG)) == pytest.approx(
        20 * seconds(voice.render(SENTENCE)), rel=0.15
    )


def test_rate_and_volume() -> None:
    with Pyttsx3Voice(VoiceOptions(rate=110)) as slow, Pyttsx3Voice(VoiceOptions(rate=220)) as fast:
        assert 1.5 < seconds(slow.render(SENTENCE)) / seconds(fast.render(SENTENCE)) < 2.5
        with Pyttsx3Voice(VoiceOptions(rate=220, volume=0.3)) as soft:
            louder = level_dbfs(fast.render(SENTENCE)) - level_dbfs(soft.render(SENTENCE))
            assert louder > 6
        assert len({slow.name, fast.name, soft.name}) == 3


def test_operator_and_program_sound_different(voice: Pyttsx3Voice) -> None:
    with OperatorVoice("en-us", "f2") as woman, OperatorVoice("en-us", "m1") as man:
        speakers: list[Voice] = [voice, woman, man]
        pitches = [pitch(speaker.render(SENTENCE)) for speaker in speakers]
        assert pitches[1] > 1.3 * pitches[0]
        assert abs(pitches[2] / pitches[0] - 1) > 0.05
        assert len({speaker.name for speaker in speakers}) == 3


def test_korean() -> None:
    with OperatorVoice("ko", "f2") as korean:
        assert 0.5 < seconds(korean.render("바퀴를 고정하세요")) < 4


@pytest.mark.parametrize("text", ["", "  \n", "...", "\0"])
def test_nothing_to_say_is_no_sound(voice: Pyttsx3Voice, text: str) -> None:
    assert len(voice.render(text)) == 0


@pytest.mark.parametrize(
    "text", ["a\0b", "\ud800 x", "<b>done</b>", "[[x]]", "one\ntwo", "-h", "5"]
)
def test_odd_text_is_spoken_and_does_no_harm(voice: Pyttsx3Voice, text: str) -> None:
    assert len(voice.render(text)) > 1600
    assert len(voice.render("done")) > 1600


@pytest.mark.parametrize(("language", "variant"), [("xx", ""), ("xx", "m1"), ("en", "nobody")])
def test_an_unknown_voice_is_said(language: str, variant: str) -> None:
    with OperatorVoice(language, variant) as nobody, pytest.raises(InputError, match="no voice"):
        nobody.render("done")


@linux
def test_a_process_killed_in_mid_render_comes_back(voice: Pyttsx3Voice) -> None:
    expected = voice.render(LONG)
    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(voice.render, LONG)
        killed = voice.pid
        assert killed
        wait_until(lambda: children(killed))  # the engine is at work
        child = children(killed)[0]
        os.kill(killed, signal.SIGKILL)
        assert np.array_equal(future.result(timeout=60), expected)
    voice.render("It may have been ready just before.")
    assert voice.pid != killed
    wait_until(lambda: not alive(child))


@linux
def test_an_engine_that_crashes_once_is_tried_again(voice: Pyttsx3Voice) -> None:
    expected = voice.render(LONG)
    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(voice.render, LONG)
        worker = voice.pid
        assert worker
        wait_until(lambda: children(worker))
        os.kill(children(worker)[0], signal.SIGSEGV)
        assert np.array_equal(future.result(timeout=60), expected)


@linux
def test_an_engine_that_hangs_gives_up_in_time_and_recovers_later() -> None:
    """Stopped processes hang for real: not even their own alarm ends them."""
    with Pyttsx3Voice(timeout=-0.02 * len(LONG) + 0.7) as voice, ThreadPoolExecutor(1) as pool:
        voice.start()
        future = pool.submit(voice.render, LONG)
        stopped: set[int] = set()

        def stop_the_next() -> bool:
            worker = voice.pid
            if worker and worker not in stopped and alive(worker):
                for child in children(worker):
                    os.kill(child, signal.SIGSTOP)
                    stopped.add(worker)
            return future.done()

        wait_until(stop_the_next, 30)
        with pytest.raises(DeviceError, match="failed twice"):
            future.result()
        assert len(stopped) == 2
    with Pyttsx3Voice() as voice:
        assert len(voice.render("done")) > 1600


FAULTY = """
import sys, time
from handsfree.speaking.pyttsx3_worker import read_frame, write_frame
write_frame(sys.stdout.buffer, {"ready": True})
request = read_frame(sys.stdin.buffer)
"""


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("import os; os._exit(3)", "its process ended"),
        ("sys.stdout.buffer.write(b'12'); sys.exit()", "its process ended"),
        ("time.sleep(60)", "no answer"),
        ("write_frame(sys.stdout.buffer, {'fault': 'no memory'})", "no memory"),
        ("write_frame(sys.stdout.buffer, {'done': True})", "not sound"),
    ],
)
def test_every_fault_becomes_one_sentence(fault: str, said: str) -> None:
    command = (sys.executable, "-c", FAULTY + fault)
    with Pyttsx3Voice(timeout=-1.8, command=command) as voice:
        with pytest.raises(DeviceError, match=said) as caught:
            voice.render("done")
        assert "\n" not in str(caught.value)
        assert voice.pid is None


def test_an_engine_that_does_not_start_is_said() -> None:
    for command in (("/nonexistent/engine",), (sys.executable, "-c", "pass")):
        voice = Pyttsx3Voice(command=command)
        with pytest.raises(DeviceError, match="does not start"):
            voice.start()
        with pytest.raises(DeviceError, match="failed twice"):
            voice.render("done")


def test_close_is_not_the_end(voice: Pyttsx3Voice) -> None:
    first = voice.render("done")
    voice.close()
    assert voice.pid is None
    assert np.array_equal(voice.render("done"), first)


@linux
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM])
def test_the_engine_ends_with_the_session(how: signal.Signals) -> None:
    code = (
        "import time; from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice\n"
        "voice = Pyttsx3Voice(); voice.start(); print(voice.pid, flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as session:
        assert session.stdout
        worker = int(session.stdout.readline())
        assert alive(worker)
        session.send_signal(how)
    wait_until(lambda: not alive(worker))


_BY_CHILD = """
import sys
from pathlib import Path
from handsfree.speaking import pyttsx3_worker as worker
worker.load_espeak()
from pyttsx3.drivers import _espeak
if sys.argv[2] == "synchronous":  # all that the library for Arm has
    _espeak.AUDIO_OUTPUT_RETRIEVAL = _espeak.AUDIO_OUTPUT_SYNCHRONOUS
told = worker.EspeakRenderer().render({
    "text": "Chock the wheels, both sides.", "file": sys.argv[1], "language": "en-us", "variant": "",
    "rate": 165, "volume": 1.0, "limit": 20.0})
assert told == {"done": True}, told
"""


@pytest.mark.skipif(sys.platform != "linux", reason="espeak-ng through its library is Linux's way")
def test_an_engine_without_an_asynchronous_mode_says_the_same(tmp_path: Path) -> None:
    """espeakng-loader's library for aarch64 is built without threads (0.2.4): it never tells that a
    text is over, and whoever waits for that waits for ever."""
    said = []
    for mode in ("asynchronous", "synchronous"):
        file = tmp_path / f"{mode}.wav"
        subprocess.run([sys.executable, "-c", _BY_CHILD, str(file), mode], check=True, timeout=120,
                       capture_output=True)
        said.append(file.read_bytes())
    assert said[0] == said[1] and len(said[0]) > 20_000
