"""How English words sound, in the ARPAbet of the recogniser, as espeak-ng would say them.

Standard library and espeakng_loader.  For words that neither the pronouncing dictionary nor the
language file has.  espeak-ng runs in a process of its own (this module as a program: words on
standard input, one a line; IPA on standard output), because the library has one voice and one
state for the whole process, and the program's own voice may be using them.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterable

from handsfree.errors import DeviceError

ARPABET = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH",
    "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH",
    "UW", "V", "W", "Y", "Z", "ZH",
)
"""The 39 sounds of the CMU pronouncing dictionary, without stress."""

_SOUNDS: dict[str, str] = {
    "aɪə": "AY AH", "aɪɚ": "AY ER", "eɪ": "EY", "aɪ": "AY", "ɔɪ": "OY", "oʊ": "OW", "əʊ": "OW",
    "aʊ": "AW", "tʃ": "CH", "dʒ": "JH", "ɪɹ": "IH R", "ɛɹ": "EH R", "ʊɹ": "UH R", "ɔːɹ": "AO R",
    "oːɹ": "AO R", "ɑːɹ": "AA R", "iə": "IY AH", "ɪə": "IH R", "eə": "EH R", "ʊə": "UH R",
    "əl": "AH L", "n̩": "AH N", "l̩": "AH L", "ɜː": "ER", "ɜ": "ER", "ɚ": "ER", "ɝ": "ER",
    "ɑː": "AA", "ɑ": "AA", "ɒ": "AA", "ɔː": "AO", "ɔ": "AO", "oː": "AO", "o": "OW", "æ": "AE",
    "a": "AE", "aː": "AA", "ɛ": "EH", "e": "EH", "iː": "IY", "i": "IY", "ɪ": "IH", "ᵻ": "IH",
    "uː": "UW", "u": "UW", "ʊ": "UH", "ʌ": "AH", "ə": "AH", "ɐ": "AH", "ᵊ": "AH",
    "b": "B", "d": "D", "ð": "DH", "f": "F", "ɡ": "G", "g": "G", "h": "HH", "k": "K", "x": "K",
    "l": "L", "ɫ": "L", "m": "M", "n": "N", "ŋ": "NG", "p": "P", "ɹ": "R", "r": "R", "s": "S",
    "ʃ": "SH", "t": "T", "ɾ": "T", "ʔ": "T", "θ": "TH", "v": "V", "w": "W", "ʍ": "W", "j": "Y",
    "z": "Z", "ʒ": "ZH",
}
"""IPA as espeak-ng writes English, to ARPAbet; the longest piece that fits counts."""

_PIECES = re.compile("|".join(sorted(map(re.escape, _SOUNDS), key=len, reverse=True)))


def to_arpabet(ipa: str) -> str:
    """ARPAbet, sounds parted by blanks, of a word in IPA; what has no equal is left out."""
    plain = re.sub(r"[ˈˌ‿\u0361\u200d]", "", ipa)
    sounds = " ".join(_SOUNDS[piece] for piece in _PIECES.findall(plain))
    # The dictionary joins schwa and r ("leveler" is L EH V AH L ER), and doubles no r.
    return re.sub(r"\bAH R\b(?! [AEIOU])|\bER R\b", "ER", sounds)


def pronounce(words: Iterable[str], voice: str = "en-us") -> dict[str, str]:
    """Each word's pronunciation in ARPAbet, sounds parted by blanks; "" when it has none.

    Raises DeviceError when espeak-ng cannot be run.
    """
    wanted = sorted(set(words))
    if not wanted:
        return {}
    try:
        ran = subprocess.run(
            [sys.executable, "-m", "handsfree.hearing.pronunciation", voice],
            input="\n".join(wanted), capture_output=True, text=True, encoding="utf-8",
            timeout=60, check=True,
        )
    except (OSError, subprocess.SubprocessError) as error:
        raise DeviceError(
            f"espeak-ng cannot tell how to say {wanted[0]!r} ({error}); reinstall the package "
            "espeakng-loader, or write the word into the language file's pronunciations."
        ) from error
    lines = ran.stdout.split("\n")
    return {word: to_arpabet(ipa) for word, ipa in zip(wanted, lines, strict=False)}


def _main() -> None:
    """IPA of the words on standard input, a line each."""
    import ctypes

    import espeakng_loader

    sys.stdin.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    library = ctypes.CDLL(espeakng_loader.get_library_path())
    synchronous, utf8, ipa = 2, 1, 2
    if library.espeak_Initialize(synchronous, 0, espeakng_loader.get_data_path().encode(), 0) < 0:
        raise SystemExit("espeak-ng does not start")
    if library.espeak_SetVoiceByName(sys.argv[1].encode()):
        raise SystemExit(f"espeak-ng has no voice {sys.argv[1]}")
    library.espeak_TextToPhonemes.restype = ctypes.c_char_p
    for word in sys.stdin.read().split("\n"):
        text = ctypes.c_char_p(word.encode())
        said = []
        while text.value:
            said.append((library.espeak_TextToPhonemes(ctypes.byref(text), utf8, ipa) or b"")
                        .decode())
        print(" ".join(said).strip())


if __name__ == "__main__":
    _main()
