"""Which recogniser: by name, or the best one that there is for a language.

May import this room's engines (late), the folders of the library and errors.  To add an engine,
write a `Recogniser` in a file of its own and give it a row in `_OPENERS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from handsfree.errors import InputError
from handsfree.hearing.own_pronunciations import sayings
from handsfree.hearing.types import Recogniser
from handsfree.storage.paths import models_folder

Pronunciations = Mapping[str, Sequence[str]]
"""ARPAbet pronunciations by word, for words that an engine's dictionary lacks."""


def open_recogniser(
    engine: str,
    language: str,
    model: Path | None,
    pronunciations: Pronunciations,
    *,
    user_data: Path | None = None,
) -> Recogniser:
    """Open a recogniser.

    Args:
        engine: auto, own, vosk or pocketsphinx.  auto: Vosk when there is a model of the language
            (given, in the user's data, or under `models/`), else our own for English.
        language: code of the language to be heard.
        model: a Vosk model's folder.
        pronunciations: see `Pronunciations`.
        user_data: the operator's data folder: `models` in it, and how they say words of their own.

    Raises:
        InputError: there is no such engine for the language, or a file of these cannot be used;
            the message says what there is.
    """
    found = model or vosk_model(language, user_data)
    if engine == "auto":
        engine = "vosk" if found else "own"
    if engine not in ("vosk", *_OPENERS):
        raise InputError(f"there is no recognizer '{engine}'; there are: vosk, {', '.join(_OPENERS)}.")
    if engine == "vosk":
        if found is None:
            raise InputError(
                f"there is no Vosk model for '{language}'; put one under"
                f" {models_folder() / language}-… or name its folder with --model.")
        from handsfree.hearing.vosk_engine import VoskRecogniser

        return VoskRecogniser(found)
    if language.split("-")[0] != "en":
        raise InputError(
            f"'{language}' is heard with a Vosk model only, and there is none; put one under"
            f" {models_folder() / language}-… or name its folder with --model.")
    own = sayings(user_data) if user_data else {}
    return _OPENERS[engine]({**pronunciations, **own})


def vosk_model(language: str, user_data: Path | None) -> Path | None:
    """A Vosk model of the language: a folder named by it, such as `ko` or `en-small`."""
    from handsfree.hearing.vosk_engine import is_model

    for base in (user_data / "models" if user_data else None, models_folder()):
        if base is None or not base.is_dir():
            continue
        for folder in sorted(base.iterdir()):
            if folder.name.split("-")[0] == language.split("-")[0] and is_model(folder):
                return folder
    return None


def _own(pronunciations: Pronunciations) -> Recogniser:
    from handsfree.hearing.own.recogniser import OwnRecogniser

    return OwnRecogniser(None, pronunciations)


def _pocketsphinx(pronunciations: Pronunciations) -> Recogniser:
    from handsfree.hearing.pocketsphinx_engine import SphinxRecogniser

    return SphinxRecogniser(pronunciations)


_OPENERS: dict[str, Callable[[Pronunciations], Recogniser]] = {
    "own": _own, "pocketsphinx": _pocketsphinx}
