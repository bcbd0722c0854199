"""Colours of the screen: by day dark on white for sunlight, by night light on black.

Pure: names of rich styles.  The colours are those of Okabe and Ito's palette, which stay apart for
colour-blind eyes (Color Universal Design, 2008, from memory); whatever has a colour has a word
beside it, so that NO_COLOR loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

BLUE, GREEN, VERMILION, YELLOW, SKY = "#0072B2", "#009E73", "#D55E00", "#F0E442", "#56B4E9"
WHITE, BLACK = "#FFFFFF", "#000000"
"""Full white and black: what terminals call "white" is often a grey."""


@dataclass(frozen=True)
class Theme:
    """One style for each part of the screen."""

    page: str
    header: str
    quiet: str
    strong: str
    banners: dict[str, str]
    caution: str
    answer: str
    wrong: str
    heard: str


DAY = Theme(
    page=f"{BLACK} on {WHITE}", header=f"bold {WHITE} on {BLACK}", quiet=f"#333333 on {WHITE}",
    strong=f"bold {BLACK} on {WHITE}",
    banners={"step": f"bold {WHITE} on {BLUE}", "hold": f"bold {WHITE} on {VERMILION}",
             "reading": f"bold {WHITE} on {GREEN}", "question": f"bold {BLACK} on {SKY}",
             "confirm": f"bold {BLACK} on {YELLOW}", "alarm": f"bold {YELLOW} on {BLACK}"},
    caution=f"bold {BLACK} on {YELLOW}", answer=f"bold {VERMILION} on {WHITE}",
    wrong=f"bold {VERMILION} on {WHITE}", heard=f"bold {BLUE} on {WHITE}")

NIGHT = Theme(
    page=f"{WHITE} on {BLACK}", header=f"bold {BLACK} on {WHITE}", quiet=f"#bbbbbb on {BLACK}",
    strong=f"bold {WHITE} on {BLACK}",
    banners={"step": f"bold {BLACK} on {SKY}", "hold": f"bold {BLACK} on {VERMILION}",
             "reading": f"bold {BLACK} on {GREEN}", "question": f"bold {BLACK} on {SKY}",
             "confirm": f"bold {BLACK} on {YELLOW}", "alarm": f"bold {BLACK} on {WHITE}"},
    caution=f"bold {BLACK} on {YELLOW}", answer=f"bold {YELLOW} on {BLACK}",
    wrong=f"bold {YELLOW} on {BLACK}", heard=f"bold {SKY} on {BLACK}")

OTHER_BANNER = "bold reverse"
"""For banners without a colour of their own: paused, closing, waiting, finished."""
