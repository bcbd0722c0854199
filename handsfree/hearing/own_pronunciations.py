"""How the owner's own words are said: ARPAbet by word, kept in the data folder.

May import json, `pronunciation`, errors and `atomic_write`.  They come before the dictionary's and the
language file's.
"""

from __future__ import annotations

import json
from pathlib import Path

from handsfree.errors import InputError
from handsfree.hearing.pronunciation import ARPABET
from handsfree.hearing.types import normal
from handsfree.storage.atomic_write import write_atomically

_FILE = "pronunciations.json"


def parsed(given: str) -> tuple[str, str]:
    """Word and sounds of "word=W ER D".

    Raises:
        InputError: it is none; the message says what is wrong and how it is written.
    """
    word, equals, sounds = given.partition("=")
    words, parts = normal(word).split(), sounds.upper().split()
    if not equals or len(words) != 1 or not parts:
        raise InputError(f"'{given}' is no pronunciation; write one word, =, and its sounds, as in"
                         " \"chocks=CH AA K S\".")
    wrong = [part for part in parts if part not in ARPABET]
    if wrong:
        raise InputError(f"'{wrong[0]}' in '{given}' is no sound; the sounds are"
                         f" {' '.join(ARPABET)}.")
    return words[0], " ".join(parts)


def sayings(data: Path) -> dict[str, tuple[str, ...]]:
    """What the owner has given.

    Raises:
        InputError: the file cannot be used.
    """
    path = data / _FILE
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        return {word: (parsed(f"{word}={sounds}")[1],) for word, sounds in kept.items()}
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, ValueError, AttributeError, InputError) as problem:
        raise InputError(f"{path} cannot be used ({problem}); delete it, and give the words again"
                         " by 'handsfree learn FILE --say'.") from None


def keep_saying(data: Path, word: str, sounds: str) -> None:
    """Keep a pronunciation, for the owner's eyes only; no sounds forget the word.

    Raises:
        InputError, StorageError: the file cannot be used, or not be written.
    """
    words = {known: said[0] for known, said in sayings(data).items() if known != word}
    if sounds:
        words[word] = sounds
    write_atomically(data / _FILE, json.dumps(words, indent=1, ensure_ascii=False).encode())
