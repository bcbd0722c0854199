"""Levels of a microphone: how loud the surroundings are, how loud the operator is over them.

Pure (numpy).  The bounds are ours, tried on mixed recordings; no source sets them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handsfree.audio import Samples, level_dbfs
from handsfree.doctor.finding import Finding, Verdict

SILENT = -90.0
"""dB re full scale below which no microphone is: muted, or no permission."""

LOUD = -35.0
"""A floor above this is heavy wind or an engine: headset, lee side."""

TOO_LOUD = -18.0
"""Above this nothing can be heard safely (see the listener's own bound)."""

FAINT = -45.0
"""Speech below this drowns in the noise of the input itself."""

MARGIN = 10.0
"""Decibels by which speech should stand over the floor."""

_FULL = 32_700
_CLIPPED = 0.002


@dataclass
class Levels:
    """Gathers frames of 20 ms while the operator is silent, or speaks."""

    frames: list[float] = field(default_factory=list)
    samples: int = 0
    clipped: int = 0

    def add(self, frame: Samples) -> float:
        """Take one frame; gives its level in dB re full scale (not below -96)."""
        level = max(-96.0, level_dbfs(frame))
        self.frames.append(level)
        self.samples += len(frame)
        self.clipped += int(np.count_nonzero(np.abs(frame.astype(np.int32)) >= _FULL))
        return level

    @property
    def floor(self) -> float:
        """Level that half of the frames stay below."""
        return float(np.median(self.frames)) if self.frames else -96.0

    @property
    def loud(self) -> float:
        """Level that the loudest tenth of the frames reaches."""
        return float(np.percentile(self.frames, 90)) if self.frames else -96.0


def surroundings(quiet: Levels) -> Finding:
    """What the frames say that were taken while nobody spoke."""
    says = f"surroundings at {quiet.floor:.0f} dB"
    if max(quiet.frames, default=-96.0) < SILENT:
        return Finding("microphone", Verdict.BAD, "it gives digital silence",
                       "switch the microphone on, and allow this terminal to use it.")
    if quiet.floor > TOO_LOUD:
        return Finding("microphone", Verdict.BAD, says,
                       "turn the input down or get out of the noise: nothing can be heard safely.")
    if quiet.floor > LOUD:
        return Finding("microphone", Verdict.NOTE, f"{says}, which is loud",
                       "a headset with a wind cover, or the lee side, helps.")
    return Finding("microphone", Verdict.GOOD, says)


def speech(quiet: Levels, spoken: Levels, wanted: str, heard: str) -> Finding:
    """What came of a phrase that the operator was asked to say; `heard` is '' for nothing."""
    over = spoken.loud - quiet.floor
    says = f"you at {spoken.loud:.0f} dB, {over:.0f} dB over the surroundings"
    if spoken.samples and spoken.clipped / spoken.samples > _CLIPPED:
        return Finding("your voice", Verdict.BAD, f"{says}, cut off at the top",
                       "turn the input of the microphone down; your voice is cut off.")
    if heard == wanted:
        if over < MARGIN:
            return Finding("your voice", Verdict.NOTE, f"'{heard}' was heard; {says}",
                           "bring the microphone nearer; wind or an engine would drown you.")
        return Finding("your voice", Verdict.GOOD, f"'{heard}' was heard; {says}")
    nothing = f"'{wanted}' was not heard" if not heard else f"'{wanted}' was heard as '{heard}'"
    if spoken.loud < FAINT or over < MARGIN:
        return Finding("your voice", Verdict.BAD, f"{nothing}; {says}",
                       "bring the microphone nearer, or turn its input up.")
    return Finding("your voice", Verdict.BAD, f"{nothing}; {says}",
                   "say it again in one go: handsfree doctor; or try another --engine.")


def bar(level: float, width: int = 30) -> str:
    """A level from -70 to 0 dB as a bar with a word, for a screen without colours."""
    filled = round(max(0.0, min(1.0, (level + 70.0) / 70.0)) * width)
    word = ("silent" if level < SILENT else "faint" if level < FAINT else
            "too loud" if level > -6 else "good" if level > -40 else "quiet")
    return f"[{'#' * filled}{'.' * (width - filled)}] {level:4.0f} dB  {word}"
