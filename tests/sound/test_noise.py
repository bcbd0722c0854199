"""The noises are what they claim: the same each time, without seams, unlike each other."""

import numpy as np
import pytest

from handsfree.audio import SAMPLE_RATE, Samples, level_dbfs
from handsfree.errors import InputError
from handsfree.sound.noise import KINDS, NoiseStream, noise


def band_share(sound: Samples, low: float, high: float) -> float:
    """Share of the power between two frequencies in Hz."""
    power = np.abs(np.fft.rfft(sound.astype(float))) ** 2
    hertz = np.fft.rfftfreq(len(sound), 1 / SAMPLE_RATE)
    return float(power[(hertz >= low) & (hertz < high)].sum() / power.sum())


def octave_levels(sound: Samples, centres: list[float]) -> list[float]:
    """Mean power density in the octave around each centre, in dB."""
    power = np.abs(np.fft.rfft(sound.astype(float))) ** 2
    hertz = np.fft.rfftfreq(len(sound), 1 / SAMPLE_RATE)
    return [
        10 * np.log10(power[(hertz >= c / 2**0.5) & (hertz < c * 2**0.5)].mean()) for c in centres
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_same_seed_same_noise_and_another_seed_another(kind: str) -> None:
    assert np.array_equal(noise(kind, 3.0, 5), noise(kind, 3.0, 5))
    other = noise(kind, 3.0, 6)
    assert not np.array_equal(noise(kind, 3.0, 5), other)


@pytest.mark.parametrize("kind", KINDS)
def test_it_does_not_matter_in_which_pieces_a_noise_is_read(kind: str) -> None:
    stream = NoiseStream(kind, 1)
    pieces = [stream.read(count) for count in (1, 320, 0, 15_999, 40_000, 7)]
    assert np.array_equal(np.concatenate(pieces), noise(kind, 4.0, 1)[: sum(map(len, pieces))])


@pytest.mark.parametrize("kind", KINDS)
def test_there_is_no_seam_between_blocks(kind: str) -> None:
    """The step across a block's edge is no larger than steps elsewhere."""
    sound = noise(kind, 30.0, 2).astype(float)
    steps = np.abs(np.diff(sound))
    edges = steps[SAMPLE_RATE - 1 :: SAMPLE_RATE]
    assert np.sqrt(np.mean(edges**2)) < 2.0 * np.sqrt(np.mean(steps**2))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", [0, 1])
def test_level_and_headroom(kind: str, seed: int) -> None:
    sound = noise(kind, 40.0, seed)
    assert level_dbfs(sound) == pytest.approx(-20.0, abs=2.0)
    assert np.mean(np.abs(sound.astype(int)) >= 32767) == 0.0


def test_spectra_differ_as_their_sources_do() -> None:
    sounds = {kind: noise(kind, 30.0, 3) for kind in KINDS}
    low = {kind: band_share(sound, 0, 300) for kind, sound in sounds.items()}
    high = {kind: band_share(sound, 1500, 8000) for kind, sound in sounds.items()}
    assert low["wind"] > 0.75
    assert high["wind"] < 0.05
    assert high["rain"] > 0.9
    assert low["rain"] < 0.02
    assert low["white"] == pytest.approx(300 / 8000, abs=0.01)
    assert low["rain"] < low["white"] < low["pink"] < low["wind"]


def test_pink_falls_three_decibels_an_octave() -> None:
    centres = [62.5 * 2**n for n in range(7)]
    levels = octave_levels(noise("pink", 60.0, 4), centres)
    slope = np.polyfit(np.log2(centres), levels, 1)[0]
    assert slope == pytest.approx(-3.01, abs=0.3)
    assert max(abs(np.diff(levels) + 3.01)) < 1.5


def test_engine_has_a_comb_at_its_firing_frequency() -> None:
    sound = noise("engine", 20.0, 1)
    comb = sum(band_share(sound, 30 * k - 2, 30 * k + 2) for k in range(1, 9))
    between = sum(band_share(sound, 30 * k + 13, 30 * k + 17) for k in range(1, 9))
    assert comb > 5 * between


def test_wind_comes_in_gusts_and_white_does_not() -> None:
    def spread(kind: str) -> float:
        sound = noise(kind, 60.0, 5)
        levels = [level_dbfs(sound[at : at + 8000]) for at in range(0, len(sound), 8000)]
        return float(np.std(levels))

    assert spread("wind") > 2.5
    assert spread("white") < 0.3


def test_rain_has_drops() -> None:
    """Kurtosis: impulses make tails that Gaussian noise (3) does not have."""

    def kurtosis(kind: str) -> float:
        sound = noise(kind, 20.0, 6).astype(float)
        return float(np.mean(sound**4) / np.mean(sound**2) ** 2)

    assert kurtosis("rain") > 4.0
    assert kurtosis("white") == pytest.approx(3.0, abs=0.2)


def test_an_unknown_kind_names_those_that_exist() -> None:
    with pytest.raises(InputError, match="wind, engine, rain"):
        noise("hail", 1.0)
