"""The Korean letters of `handsfree/paper/fonts`, cut out of Noto Sans KR.

    python korean_font.py FOLDER ../handsfree/paper/fonts

FOLDER is `package` of the npm package `@expo-google-fonts/noto-sans-kr` (0.4.3), unpacked.  What is
kept: the 2,350 syllables of KS X 1001, its single letters, and Latin, Greek, Cyrillic, punctuation,
arrows, signs and fractions; no Chinese characters.  The licence lets a part be passed on; the
reserved name "Source" is not used.  Imports fontTools.
"""

import sys
from pathlib import Path

from fontTools import subset

OTHERS = ((0x20, 0x24F), (0x2C6, 0x2DD), (0x391, 0x3C9), (0x401, 0x451), (0x2010, 0x205E),
          (0x2070, 0x209F), (0x20A9, 0x20AC), (0x2100, 0x22FF), (0x2460, 0x24FF), (0x2500, 0x257F),
          (0x25A0, 0x2665), (0x2713, 0x271A), (0x3000, 0x303F), (0x3130, 0x318F), (0x3200, 0x33DF),
          (0xFF01, 0xFF5E))
"""First and last code point of each block that is kept where the font has it."""


def syllables() -> list[int]:
    """Code points of the syllables of KS X 1001."""
    found = []
    for code in range(0xAC00, 0xD7A4):
        try:
            chr(code).encode("euc_kr")
        except UnicodeEncodeError:
            continue
        if len(chr(code).encode("euc_kr")) == 2:  # longer: spelled out of single letters
            found.append(code)
    return found


def main(package: Path, target: Path) -> None:
    """Write NotoSansKR-Regular.ttf and NotoSansKR-Bold.ttf into `target`."""
    wanted = [*syllables(), *(code for first, last in OTHERS for code in range(first, last + 1))]
    for folder, name in (("400Regular", "Regular"), ("700Bold", "Bold")):
        options = subset.Options(hinting=False, layout_features=[], name_IDs=["*"],
                                 name_languages=["*"], recalc_timestamp=False)
        font = subset.load_font(str(package / folder / f"NotoSansKR_{folder}.ttf"), options)
        cutter = subset.Subsetter(options)
        cutter.populate(unicodes=wanted)
        cutter.subset(font)
        subset.save_font(font, str(target / f"NotoSansKR-{name}.ttf"), options)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
