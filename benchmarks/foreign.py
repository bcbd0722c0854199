"""Speech in other languages than English, as long as wanted: texts at hand, spoken by espeak-ng.

Texts: numbers by num2words; sentences of our own German and Korean language files; sentences of the
message catalogues (gettext) that the system's programs have under /usr/share/locale, if any.  All of
it is synthetic speech: recordings of people can be given to the benchmark instead.

May import the voices' port, the language files, the sample format; num2words late.
"""

from __future__ import annotations

import gettext
import random
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks.speakers import ESPEAK_VARIANTS
from handsfree.audio import Samples, silence
from handsfree.errors import DeviceError, InputError
from handsfree.language.loader import load_language
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions

CATALOGUES = Path("/usr/share/locale")

LANGUAGES = {
    "fr": "fr", "de": "de", "es": "es", "it": "it", "pt": "pt", "pt_BR": "pt-br", "nl": "nl",
    "sv": "sv", "da": "da", "nb": "nb", "fi": "fi", "et": "et", "lv": "lv", "lt": "lt", "pl": "pl",
    "cs": "cs", "sk": "sk", "sl": "sl", "hr": "hr", "sr": "sr", "bg": "bg", "ru": "ru", "uk": "uk",
    "be": "be", "ro": "ro", "hu": "hu", "tr": "tr", "el": "el", "ca": "ca", "eu": "eu", "eo": "eo",
    "ga": "ga", "sq": "sq", "ka": "ka", "id": "id", "ms": "ms", "vi": "vi", "ko": "ko",
    "zh_CN": "cmn", "ar": "ar", "af": "af",
}
"""Name of a catalogue, and of espeak-ng's voice for it (Japanese is left out: the voice reads most of
its writing in English)."""

_PLACEHOLDER = re.compile(r"[%{}<>\\|=_@\[\]/*`$#~\n\t]|--|[A-Z]{3}")
_TURN = 60.0
"""Seconds of one speaker at a time."""


def texts(name: str, rng: random.Random) -> Iterator[str]:
    """Sentences and numbers of a language without end; nothing at all where there are none."""
    sentences = _sentences(name)
    rng.shuffle(sentences)
    counts = _numbers(name, rng)
    while sentences or counts:
        for at in range(max(len(sentences), 1)):
            if sentences:
                yield sentences[at]
            if counts and (at % 3 == 0 or not sentences):
                yield next(counts)


def spoken_languages() -> list[str]:
    """Those for which there is any text here."""
    return [name for name in LANGUAGES if next(texts(name, random.Random(1)), "")]


def foreign_speech(
    seconds: float, seed: int = 1, names: tuple[str, ...] = ()
) -> Iterator[tuple[str, Samples]]:
    """(language, sound) piece by piece: a sentence and a short pause, until the time is over.

    Raises:
        InputError: there is no text in any language.
    """
    rng = random.Random(seed)
    told, heard, turn = dict.fromkeys(names or LANGUAGES), 0.0, 0
    while heard < seconds:
        for name in list(told):
            voice = Pyttsx3Voice(VoiceOptions(
                LANGUAGES[name], ESPEAK_VARIANTS[turn % len(ESPEAK_VARIANTS)],
                rng.choice((140, 165, 190))))
            turn, spoken = turn + 1, 0.0
            try:
                for text in texts(name, rng):
                    sound = np.concatenate((voice.render(text), silence(rng.uniform(0.2, 0.9))))
                    spoken += len(sound) / 16_000
                    heard += len(sound) / 16_000
                    yield name, sound
                    if spoken > _TURN or heard >= seconds:
                        break
            except (DeviceError, InputError):
                pass  # this engine lacks the voice: counted below
            finally:
                voice.close()
            if not spoken:
                del told[name]
            if heard >= seconds:
                return
        if not told:
            raise InputError("there is no text in another language here; give recordings with"
                             " --speech.")


def _sentences(name: str) -> list[str]:
    found: set[str] = set()
    if name in ("de", "ko"):
        found |= set(load_language(name).templates.values())
    for path in sorted((CATALOGUES / name / "LC_MESSAGES").glob("*.mo")):
        try:
            with open(path, "rb") as file:
                catalogue = gettext.GNUTranslations(file)._catalog  # type: ignore[attr-defined]
        except (OSError, UnicodeDecodeError, ValueError):
            continue
        found |= {told for original, told in catalogue.items()
                  if isinstance(told, str) and original and told != original}
    return sorted(text for text in found if 12 <= len(text) <= 160 and (
        text.count(" ") >= 3 or name in ("ko", "zh_CN")) and not _PLACEHOLDER.search(text))


def _numbers(name: str, rng: random.Random) -> Iterator[str] | None:
    from num2words import CONVERTER_CLASSES, num2words

    if name not in CONVERTER_CLASSES or name == "en":
        return None

    def each() -> Iterator[str]:
        while True:
            yield ", ".join(num2words(rng.randint(0, 10 ** rng.randint(1, 4)), lang=name)
                            for _ in range(3))

    return each()
