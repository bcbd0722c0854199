"""The signal-to-noise ratio that was asked for is the one that is in the sound."""

import numpy as np
import pytest

from handsfree.audio import SAMPLE_RATE, Samples, level_dbfs, silence, to_int16
from handsfree.sound.mixing import gain_for_snr, looped, mix_at_snr, speech_activity
from handsfree.sound.noise import KINDS, noise
from handsfree.speaking.operator_voice import OperatorVoice


def bursts(on: float = 0.5, off: float = 1.0, count: int = 4) -> tuple[Samples, np.ndarray]:
    """Something like speech whose active part is known exactly: tone bursts and pauses."""
    rate = SAMPLE_RATE
    one = 6000 * np.sin(2 * np.pi * 400 * np.arange(round(on * rate)) / rate)
    piece = np.concatenate([one, np.zeros(round(off * rate))])
    where = np.tile(np.arange(len(piece)) < len(one), count)
    return to_int16(np.tile(piece, count)), where


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("snr", [-6.0, 0.0, 5.0, 20.0])
def test_ratio_measured_back_over_the_active_part(kind: str, snr: float) -> None:
    """Measured without our own activity detection: the tone's level is known by construction."""
    speech, _ = bursts(on=2.0, off=0.0, count=2)  # all of it is active
    mixed = mix_at_snr(speech, noise(kind, 4.0, 1), snr).astype(float)
    # Least squares finds how far both were turned down together, if at all.
    scale = mixed @ speech.astype(float) / (speech.astype(float) @ speech.astype(float))
    rest = mixed - scale * speech
    measured = 10 * np.log10(np.mean((scale * speech) ** 2) / np.mean(rest**2))
    assert measured == pytest.approx(snr, abs=0.5)


def test_pauses_do_not_change_the_ratio() -> None:
    """The same bursts with longer pauses between get noise of the same level."""
    steady = noise("white", 12.0, 1)
    short, long = bursts(off=0.5)[0], bursts(off=2.5)[0]
    ratio = gain_for_snr(long, steady, 10) / gain_for_snr(short, steady, 10)
    assert 20 * np.log10(ratio) == pytest.approx(0.0, abs=0.5)


def test_noise_counts_only_where_speech_is_active() -> None:
    """A gust in the pause neither raises nor lowers the noise under the words."""
    speech = np.concatenate([bursts(on=1.0, off=0.0, count=1)[0], silence(2.0)])
    calm = noise("white", 3.0, 1)
    gusty = calm.copy()
    gusty[2 * SAMPLE_RATE :] = to_int16(8.0 * calm[2 * SAMPLE_RATE :])
    assert gain_for_snr(speech, gusty, 10) == pytest.approx(gain_for_snr(speech, calm, 10))


@pytest.mark.parametrize("snr", [-5.0, 5.0, 15.0])
def test_ratio_with_a_real_voice_in_wind(snr: float) -> None:
    with OperatorVoice("en-us", "m3") as operator:
        speech = operator.render("Both chocks are set. The breaker is off, and the cord is in.")
    level, active = speech_activity(speech)
    mixed = mix_at_snr(speech, noise("wind", 10.0, 2), snr).astype(float)
    clean = speech.astype(float)
    scale = mixed @ clean / (clean @ clean)
    rest = (mixed / scale - clean)[active] / 32768
    assert level - 10 * np.log10(np.mean(rest**2)) == pytest.approx(snr, abs=0.5)


def test_trailing_silence_does_not_change_the_level() -> None:
    speech = bursts(on=2.0, off=0.3, count=1)[0]
    padded = np.concatenate([silence(1.0), speech, silence(5.0)])
    assert speech_activity(padded)[0] == pytest.approx(speech_activity(speech)[0], abs=0.2)


def test_active_level_of_a_steady_tone_is_its_level() -> None:
    speech = bursts(on=5.0, off=0.0, count=1)[0]
    level, active = speech_activity(speech)
    assert level == pytest.approx(level_dbfs(speech), abs=0.1)
    assert active.mean() > 0.98


def test_activity_covers_the_bursts_and_their_hangover_only() -> None:
    speech, where = bursts()
    active = speech_activity(speech)[1]
    assert active[where].mean() > 0.95
    # 1 s of pause, of which 0.2 s hangover and the envelope's decay count as speech.
    assert active[~where].mean() < 0.45


@pytest.mark.parametrize("level", [-6, -30, -55])
def test_activity_does_not_depend_on_the_level(level: float) -> None:
    speech = bursts()[0].astype(float)
    quiet = to_int16(speech * 10 ** (level / 20))
    assert speech_activity(quiet)[0] == pytest.approx(
        speech_activity(bursts()[0])[0] + level, abs=0.5
    )


def test_what_would_clip_is_turned_down_as_a_whole() -> None:
    speech = to_int16(30_000 * np.sin(2 * np.pi * 300 * np.arange(32_000) / SAMPLE_RATE))
    mixed = mix_at_snr(speech, noise("white", 2.0, 1), 0)
    assert np.max(np.abs(mixed.astype(int))) <= 32_767
    assert np.count_nonzero(np.abs(mixed.astype(int)) == 32_767) <= 2  # its one peak, no plateau


def test_silence_on_either_side_adds_nothing() -> None:
    speech = bursts()[0]
    assert np.array_equal(mix_at_snr(speech, silence(1.0), 0), speech)
    assert not mix_at_snr(silence(1.0), noise("white", 1.0), 0).any()
    assert len(mix_at_snr(silence(0), noise("white", 1.0), 0)) == 0
    assert np.array_equal(mix_at_snr(speech, silence(0), 0), speech)


def test_looping_gives_the_length_and_keeps_the_power_at_the_seam() -> None:
    short = noise("white", 0.7, 1)
    long = looped(short, 5 * SAMPLE_RATE)
    assert len(long) == 5 * SAMPLE_RATE
    levels = [level_dbfs(long[at : at + 400]) for at in range(0, len(long) - 400, 400)]
    assert max(levels) - min(levels) < 3.0
    assert np.array_equal(looped(short, 100), short[:100])
    assert len(looped(short[:1], 50)) == 50


def test_mixing_is_deterministic() -> None:
    speech = bursts()[0]
    first, second = (mix_at_snr(speech, noise("rain", 2.0, 9), 5) for _ in range(2))
    assert np.array_equal(first, second)
