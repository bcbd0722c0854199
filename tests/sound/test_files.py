"""Sound survives files; what cannot be read is said in one sentence."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from handsfree.audio import SAMPLE_RATE, level_dbfs, silence, to_int16
from handsfree.errors import InputError, StorageError
from handsfree.sound.files import read_sound, write_mono, write_stereo


def tone(hertz: float, rate: int, seconds: float = 1.0) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)


def test_our_own_format_comes_back_exactly(tmp_path: Path) -> None:
    sound = to_int16(32_768 * tone(440, SAMPLE_RATE))
    write_mono(tmp_path / "a.wav", sound)
    assert np.array_equal(read_sound(tmp_path / "a.wav"), sound)


@pytest.mark.parametrize("suffix", ["wav", "flac"])
@pytest.mark.parametrize("rate", [8_000, 22_050, 44_100, 48_000])
def test_other_rates_keep_length_pitch_and_level(tmp_path: Path, suffix: str, rate: int) -> None:
    file = tmp_path / f"a.{suffix}"
    soundfile.write(file, tone(1000, rate), rate)
    sound = read_sound(file)
    assert len(sound) == pytest.approx(SAMPLE_RATE, abs=2)
    peak = np.argmax(np.abs(np.fft.rfft(sound[:SAMPLE_RATE]))) * SAMPLE_RATE / len(sound)
    assert peak == pytest.approx(1000, abs=2)
    assert level_dbfs(sound) == pytest.approx(-9.03, abs=0.2)  # half scale, sine


def test_what_lies_above_our_band_does_not_fold_back(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", tone(11_000, 48_000), 48_000)
    assert level_dbfs(read_sound(tmp_path / "a.wav")[800:-800]) < -60


def test_channels_are_averaged(tmp_path: Path) -> None:
    left = tone(500, SAMPLE_RATE)
    soundfile.write(tmp_path / "a.wav", np.stack([left, np.zeros_like(left)], 1), SAMPLE_RATE)
    assert level_dbfs(read_sound(tmp_path / "a.wav")) == pytest.approx(-15.05, abs=0.1)


def test_stereo_has_the_operator_left_and_the_program_right(tmp_path: Path) -> None:
    operator = to_int16(10_000 * tone(300, SAMPLE_RATE))
    program = to_int16(10_000 * tone(700, SAMPLE_RATE, 2.0))
    write_stereo(tmp_path / "a.wav", operator, program)
    sound, rate = soundfile.read(tmp_path / "a.wav", dtype="int16")
    assert rate == SAMPLE_RATE
    assert np.array_equal(sound[: len(operator), 0], operator)
    assert not sound[len(operator) :, 0].any()
    assert np.array_equal(sound[:, 1], program)


def test_files_that_are_no_sound(tmp_path: Path) -> None:
    (tmp_path / "text.wav").write_text("hello")
    write_mono(tmp_path / "empty.wav", silence(0))
    for name in ("absent.wav", "text.wav", "empty.wav", "."):
        with pytest.raises(InputError) as caught:
            read_sound(tmp_path / name)
        assert "\n" not in str(caught.value)
        assert name.strip(".") in str(caught.value)


def test_a_folder_that_does_not_exist_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="folder"):
        write_stereo(tmp_path / "nowhere" / "a.wav", silence(1), silence(1))
