"""News of the surroundings, from real speech in made noise: each once, none without reason."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.audio import FRAME, Samples, to_int16
from handsfree.hearing.endpointing import Endpointer
from handsfree.hearing.noise_monitor import COVERED_AFTER, RISES, Surroundings, speech_level
from handsfree.sound.mixing import mix_at_snr, speech_activity
from handsfree.sound.noise import NoiseStream
from tests.hearing.speech import say


def at(dbfs: float, seconds: float, kind: str = "pink", seed: int = 1) -> Samples:
    """Noise at a level."""
    sound = NoiseStream(kind, seed).read(round(seconds * 16_000)).astype(np.float64)
    return to_int16(sound * 10 ** ((dbfs + 20) / 20))


def voice(dbfs: float, text: str = "what is left") -> Samples:
    sound = say(text)
    return to_int16(sound * 10 ** ((dbfs - speech_activity(sound)[0]) / 20))


class Ear:
    """Sound through a real endpointer into what is tested, as the loop does it."""

    def __init__(self) -> None:
        self.around = Surroundings()
        self.endpointer = Endpointer()
        self.news: list[str] = []

    def hear(self, sound: Samples, understood: bool = True) -> list[str]:
        news, pieces = [], []
        for at in range(0, len(sound) - FRAME + 1, FRAME):
            frame = sound[at : at + FRAME]
            piece = self.endpointer.process(frame)
            if piece is None:
                news.append(self.around.listened(frame, self.endpointer.floor_dbfs))
                continue
            pieces.append(piece)
            if not self.endpointer.in_speech:
                sound_of_it = np.concatenate(pieces)[4_000:-8_000]  # without the silence around
                news.append(self.around.spoken(
                    sound_of_it, self.endpointer.floor_dbfs, understood))
                pieces = []
                self.endpointer.reset()
        return [one for one in news if one]


@pytest.mark.parametrize("kind", ["wind", "engine", "rain", "pink"])
@pytest.mark.parametrize("snr", [20, 10, 5])
def test_the_voices_level_is_found_in_noise(kind: str, snr: int) -> None:
    clean = voice(-26)
    noise = mix_at_snr(clean, at(-20, 5, kind, 3), snr) - clean.astype(np.float64)
    active = speech_activity(clean)[1]
    floor = 10 * np.log10(np.mean((noise / 32768) ** 2))
    spoken = to_int16(clean + noise)[active]
    assert speech_level(spoken, float(floor)) == pytest.approx(-26, abs=2)


def test_in_a_quiet_place_there_is_no_news() -> None:
    ear = Ear()
    for seed in range(3):
        assert not ear.hear(at(-60, 2, seed=seed))
        assert not ear.hear(to_int16(voice(-26) + at(-60, len(voice(-26)) / 16_000)))
    assert not ear.around.noisy
    assert ear.around.voice_dbfs == pytest.approx(-26, abs=4)


@pytest.mark.parametrize("kind", ["engine", "rain", "pink"])
def test_noise_that_drowns_the_voice_is_told_once_and_its_end_once(kind: str) -> None:
    ear = Ear()
    ear.hear(np.concatenate((at(-60, 2), to_int16(voice(-26) + at(-60, len(voice(-26)) / 16_000)))))
    assert ear.hear(at(-22, 20, kind)) == ["loud"]
    assert ear.around.noisy
    assert ear.hear(at(-55, 30, kind)) == ["quiet again"]
    assert not ear.around.noisy
    assert ear.hear(at(-22, 20, kind, 2)) == ["loud"]


def test_noise_at_ten_decibels_under_the_voice_is_no_news() -> None:
    ear = Ear()
    ear.hear(np.concatenate((at(-60, 2), to_int16(voice(-26) + at(-60, len(voice(-26)) / 16_000)))))
    assert not ear.hear(at(-36, 20, "engine"))


def test_a_gust_is_no_noise_and_a_lull_no_quiet() -> None:
    around = Surroundings()
    frame = at(-60, 0.02)
    around.spoken(voice(-26), -60.0, True)
    gusty = [around.listened(frame, -20.0 if n % 100 < 80 else -60.0) for n in range(1000)]
    assert not any(gusty)
    assert any(around.listened(frame, -20.0) for _ in range(200))
    lulls = [around.listened(frame, -60.0 if n % 400 < 300 else -20.0) for n in range(2000)]
    assert not any(lulls) and around.noisy


def test_a_faint_voice_is_told_once_and_only_when_it_is_usual() -> None:
    ear = Ear()
    around = np.concatenate((at(-75, 2), to_int16(voice(-52) + at(-75, len(voice(-52)) / 16_000))))
    assert ear.hear(around) == []
    assert ear.hear(around) == ["faint"]
    assert ear.hear(around) == []


def test_a_voice_that_is_cut_off_is_told_once() -> None:
    ear = Ear()
    loud = np.clip(voice(-26).astype(np.float64) * 30, -32768, 32767).astype(np.int16)
    sound = to_int16(loud + at(-50, len(loud) / 16_000).astype(np.float64))
    assert ear.hear(np.concatenate((at(-50, 2), sound))) == ["clipped"]
    assert ear.hear(sound) == []


def test_a_hand_over_the_microphone_is_told_once() -> None:
    ear = Ear()
    assert ear.hear(at(-50, 5, "wind")) == []
    assert ear.hear(at(-76, COVERED_AFTER + 12)) == ["covered"]
    assert ear.hear(at(-76, COVERED_AFTER + 5)) == []


def test_a_quiet_night_is_no_covered_microphone() -> None:
    assert Ear().hear(at(-74, 2 * COVERED_AFTER)) == []


def test_digital_silence_is_left_to_the_device() -> None:
    assert Ear().hear(np.zeros(16_000 * 20, dtype=np.int16)) == []


def test_talk_that_is_not_understood_does_not_pass_for_the_operators_voice() -> None:
    around = Surroundings()
    around.spoken(voice(-26), -70.0, True)
    usual = around.voice_dbfs
    for _ in range(5):
        around.spoken(voice(-50), -70.0, False)
    assert around.voice_dbfs == usual


def words_in(kind: str, snr: float, seconds: float, apart: float = 8.0) -> Samples:
    """Somebody who says "done" every 8 s in a noise that goes on."""
    word = say("done")
    noise = at(-30, seconds, kind, 5).astype(np.float64)
    gain = 10 ** ((-30 + snr - speech_activity(word)[0]) / 20)
    for start in range(16_000 * 5, len(noise) - len(word), round(apart * 16_000)):
        noise[start : start + len(word)] += gain * word
    return to_int16(noise)


def unopened(sound: Samples) -> list[tuple[float, str]]:
    """News, with their time, when the gate opens for none of it."""
    around, endpointer, news = Surroundings(-20.0), Endpointer(lambda chunk: 0.0), []
    for start in range(0, len(sound) - FRAME + 1, FRAME):
        frame = sound[start : start + FRAME]
        endpointer.process(frame)
        told = around.listened(frame, endpointer.floor_dbfs)
        if told:
            news.append((start / 16_000, told))
    return news


@pytest.mark.parametrize("kind", ["engine", "rain", "pink", "wind"])
def test_a_gate_that_stays_shut_is_told_within_20_seconds(kind: str) -> None:
    """Of the first word, at 5 dB and more; then not again for minutes."""
    for snr in (5, 15):
        news = [(t, told) for t, told in unopened(words_in(kind, snr, 60)) if told == "unheard"]
        assert len(news) == 1 and 5 < news[0][0] < 25, (snr, news)  # the first word at 5 s


def test_a_gate_that_opens_is_not_complained_of() -> None:
    for kind in ("engine", "rain", "wind"):
        assert "unheard" not in Ear().hear(words_in(kind, 5, 40))


@pytest.mark.parametrize("kind", ["engine", "rain", "pink", "wind"])
def test_noise_alone_is_no_voice_that_was_missed(kind: str) -> None:
    assert unopened(at(-30, 120, kind, 7)) == []


def test_sounds_that_nobody_was_heard_in_are_told_when_they_come_in_a_row() -> None:
    """A word that the gate let in and the networks lost is as unheard as one that it kept out."""
    around, frame = Surroundings(-20.0), at(-50, 0.02)
    for _ in range(100):
        around.listened(frame, -50.0)
    assert around.nobody(at(-47, 0.5), -50.0) == ""  # hardly over the noise: no rise
    assert [around.nobody(at(-30, 0.5), -50.0) for _ in range(RISES)] == ["", "", "unheard"]
    assert not any(around.nobody(at(-30, 0.5), -50.0) for _ in range(10))  # told once


def test_a_word_that_was_heard_between_them_is_the_end_of_the_row() -> None:
    around = Surroundings(-20.0)
    for _ in range(2 * RISES):
        assert around.nobody(at(-30, 0.5), -50.0) == ""
        around.spoken(at(-30, 0.5), -50.0, True)
