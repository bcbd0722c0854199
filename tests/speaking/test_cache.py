"""Prompts come from the cache at once and unchanged, and a bad cache never costs a prompt."""

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from handsfree.audio import Samples
from handsfree.errors import DeviceError
from handsfree.speaking import cache as cache_module
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions

TEXTS = ["Chocks set?", "Breaker off.", "Read the pressure.", "Noted."]


class Counted:
    """The real voice, with a count of what it was asked to render."""

    def __init__(self, options: VoiceOptions = VoiceOptions()) -> None:  # noqa: B008
        self._voice = Pyttsx3Voice(options)
        self.asked: list[str] = []
        self.name = self._voice.name
        self.close = self._voice.close

    def render(self, text: str) -> Samples:
        self.asked.append(text)
        return self._voice.render(text)


@pytest.fixture
def voice() -> Iterator[Counted]:
    one = Counted()
    yield one
    one.close()


def test_a_hit_is_identical_and_not_rendered_again(voice: Counted) -> None:
    with PromptCache(voice) as cache:
        first = cache.get(TEXTS[0])
        for _ in range(20):
            assert np.array_equal(cache.get(TEXTS[0]), first)
        assert voice.asked == [TEXTS[0]]


def test_prompts_asked_for_ahead_are_ready(voice: Counted) -> None:
    with PromptCache(voice) as cache:
        assert cache.ahead(TEXTS).result(timeout=30) == len(TEXTS)
        assert voice.asked == TEXTS
        for text in TEXTS:
            assert len(cache.get(text)) > 1600
        assert voice.asked == TEXTS


def test_prompts_outlive_the_session_in_the_folder(voice: Counted, tmp_path: Path) -> None:
    folder = tmp_path / "prompts"
    with PromptCache(voice, folder) as cache:
        cache.ahead(TEXTS).result(timeout=30)
        kept = [cache.get(text) for text in TEXTS]
    voice.asked.clear()
    with PromptCache(voice, folder) as cache:
        assert all(np.array_equal(cache.get(t), k) for t, k in zip(TEXTS, kept, strict=True))
    assert voice.asked == []
    assert not list(folder.glob("*.part"))


def test_another_rate_is_another_prompt(voice: Counted, tmp_path: Path) -> None:
    other = Counted(VoiceOptions(rate=100))
    with PromptCache(voice, tmp_path) as cache, PromptCache(other, tmp_path) as slow:
        assert len(slow.get(TEXTS[0])) > len(cache.get(TEXTS[0]))
    other.close()
    assert len(list(tmp_path.glob("*.wav"))) == 2


def test_a_damaged_file_is_rendered_again(voice: Counted, tmp_path: Path) -> None:
    with PromptCache(voice, tmp_path) as cache:
        good = cache.get(TEXTS[0])
    (file,) = tmp_path.glob("*.wav")
    for damage in (b"", b"RIFF", b"noise" * 100):
        file.write_bytes(damage)
        with PromptCache(voice, tmp_path) as cache:
            assert np.array_equal(cache.get(TEXTS[0]), good)


def test_a_folder_that_cannot_be_written_costs_nothing(voice: Counted, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with PromptCache(voice, tmp_path / "file" / "prompts") as cache:
        assert len(cache.get(TEXTS[0])) > 1600


def test_nobody_can_change_what_the_next_one_hears(voice: Counted) -> None:
    with PromptCache(voice) as cache, pytest.raises(ValueError, match="read-only"):
        cache.get(TEXTS[0])[0] = 1


def test_threads_that_want_the_same_prompt_render_it_once(voice: Counted) -> None:
    with PromptCache(voice) as cache:
        threads = [threading.Thread(target=cache.get, args=(TEXTS[0],)) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert voice.asked == [TEXTS[0]]


def test_memory_is_bounded(voice: Counted, monkeypatch: pytest.MonkeyPatch) -> None:
    with PromptCache(voice) as cache:
        size = cache.get(TEXTS[0]).nbytes
        monkeypatch.setattr(cache_module, "MEMORY", size + 100)
        cache.get(TEXTS[1])  # drives the first one out
        voice.asked.clear()
        cache.get(TEXTS[1])
        assert voice.asked == []
        cache.get(TEXTS[0])
        assert voice.asked == [TEXTS[0]]


def test_the_folder_is_bounded(
    voice: Counted, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with PromptCache(voice, tmp_path) as cache:
        for text in TEXTS:
            cache.get(text)
            time.sleep(0.02)  # files of different age
    newest = max(tmp_path.glob("*.wav"), key=lambda file: file.stat().st_mtime_ns)
    monkeypatch.setattr(cache_module, "DISK", newest.stat().st_size + 10)
    with PromptCache(voice, tmp_path):
        assert list(tmp_path.glob("*.wav")) == [newest]


def test_a_voice_that_fails_is_told_to_whoever_needs_the_prompt() -> None:
    broken = Pyttsx3Voice(command=("/nonexistent/engine",))
    with PromptCache(broken) as cache:
        assert cache.ahead(TEXTS).result(timeout=30) == 0
        with pytest.raises(DeviceError):
            cache.get(TEXTS[0])


def test_closing_does_not_wait_for_what_is_still_to_be_rendered(voice: Counted) -> None:
    cache = PromptCache(voice)
    many = [f"Prompt number {n}." for n in range(2000)]
    future = cache.ahead(many)
    cache.ahead(many)
    cache.close()
    assert future.cancelled() or future.result() < len(many)
