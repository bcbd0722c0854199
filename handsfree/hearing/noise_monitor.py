"""What the surroundings do to hearing: too loud to be safe, a voice too faint or cut off, a covered
microphone, a voice for which the speech gate never opens.

Pure (numpy, the sample format).  It is shown the frames in which nobody speaks, with the
endpointer's noise floor, and the sound of each utterance; it gives news, each when it is new.
Trained ears hear on below these bounds: of 16 commands by two voices in wind, engine, rain and pink
noise our recogniser had all right at 0 dB, and at -5 dB lost or mistook 9 in 64.  The bounds leave
room for noise that was not tried.
"""

from __future__ import annotations

from collections import deque
from typing import Literal

import numpy as np

from handsfree.audio import FRAME, SAMPLE_RATE, Samples
from handsfree.hearing.types import SILENT_DBFS

News = Literal["", "loud", "quiet again", "faint", "clipped", "covered", "unheard"]

LOUD_DB, QUIET_DB = 3.0, 7.0
"""Estimated decibels of speech over the floor: below the first it is too loud, from the second on
quiet again."""

LOUD_AFTER, QUIET_AFTER = 2.0, 8.0
"""Seconds for which it has to be so; a gust is no noise, a lull no quiet."""

UNKNOWN_DBFS = -20.0
"""Taken for the level of a voice that was not heard yet: only what drowns a near voice counts."""

FAINT_DBFS, FAINT_TIMES = -45.0, 2
"""So many utterances in a row below this level drown in the input's own noise."""

FULL, CLIPPED = 32_700, 0.001
"""A voice is cut off when this share of its samples is at full scale."""

COVERED_DBFS, DEAD_DBFS, DROP_DB = -70.0, -80.0, 12.0
"""A floor this low is a covered microphone where it was `DROP_DB` higher before, or, below the
second, in any case."""

COVERED_AFTER = 15.0
"""Seconds of such a floor, while something is to be heard."""


RISE_DB, FALL_DB = 5.0, 2.5
"""Decibels over the floor, in the band of speech, at which something rises and is over."""

SHORTEST, LONGEST = 0.1, 3.0
"""Seconds that a rise lasts which may be a word; a gust or a car takes longer."""

SETTLED = 5.0
"""Seconds until the floor and how much the noise moves by itself are known."""

RISES, WITHIN = 3, 20.0
"""So many rises within so many seconds, and the gate opened for none: it may be deaf.  Two came of
made rain and wind without a voice, and of half the recordings that were tried."""

AGAIN_AFTER = 600.0
"""Seconds until that is told again."""


class Unheard:
    """Watches the level between 300 and 3,400 Hz while the speech gate is shut."""

    def __init__(self) -> None:
        self._window = np.hanning(FRAME)
        hertz = np.fft.rfftfreq(FRAME, 1 / SAMPLE_RATE)
        self._band = (hertz >= 300) & (hertz <= 3400)
        self._last: deque[float] = deque(maxlen=5)
        self._floor = 0.0
        self._spread = 0.5
        self._frames = 0
        self._up = 0
        self._now = 0.0
        self._rises: deque[float] = deque(maxlen=RISES)
        self._told = -AGAIN_AFTER

    def opened(self) -> None:
        """The gate has opened: it is not deaf."""
        self._rises.clear()
        self._up = 0
        self._last.clear()

    def listened(self, frame: Samples) -> bool:
        """One frame while the gate is shut; true when it is time to say so."""
        self._now += FRAME / SAMPLE_RATE
        spectrum = np.fft.rfft(frame * self._window)[self._band]
        self._last.append(float(np.mean(spectrum.real**2 + spectrum.imag**2)) + 1.0)
        level = 10 * float(np.log10(np.mean(self._last)))
        self._frames += 1
        if self._frames < 50:
            self._floor += (level - self._floor) / self._frames
            return False
        over = level - self._floor
        # Slowly towards what stands out, faster towards what does not, and fastest down.
        slow = 0.002 if over > FALL_DB else 0.01 if over > 0 else 0.02
        self._floor += slow * over
        # What the noise itself does, gusts and drops, is no rise.
        self._spread += 0.004 * (min(abs(over), 6.0) - self._spread)
        bound = max(RISE_DB, 5.0 * self._spread)
        if over >= (FALL_DB if self._up else bound):
            self._up += 1
            return False
        lasted, self._up = self._up * FRAME / SAMPLE_RATE, 0
        if not SHORTEST <= lasted <= LONGEST or self._now < SETTLED:
            return False
        return self.risen()

    def risen(self) -> bool:
        """Something rose over the noise and was not heard; true when it is time to say so."""
        self._rises.append(self._now)
        close = len(self._rises) == RISES and self._now - self._rises[0] <= WITHIN
        if not close or self._now - self._told < AGAIN_AFTER:
            return False
        self._told = self._now
        self._rises.clear()
        return True


def speech_level(spoken: Samples, floor_dbfs: float) -> float:
    """Level of the voice alone, dB re full scale: the power of what was spoken less the floor's;
    3 dB under the floor where nothing is left."""
    if not len(spoken):
        return SILENT_DBFS
    floor = 10 ** (floor_dbfs / 10)
    power = float(np.mean(spoken.astype(np.float64) ** 2)) / 32768.0**2
    return max(SILENT_DBFS, 10 * float(np.log10(max(power - floor, floor / 2))))


class Surroundings:
    """Follows noise and voice through a session."""

    def __init__(self, voice_dbfs: float = UNKNOWN_DBFS) -> None:
        """`voice_dbfs`: the usual level of the operator's voice, where it is known."""
        self._usual = voice_dbfs
        self.noisy = False
        """Too loud to be safe, from the news that says so to the one that it is over."""
        self._voices: deque[float] = deque(maxlen=5)
        self._understood = False
        self._since = self._dead = 0.0
        self._highest = SILENT_DBFS
        self._faint = 0
        self._told: set[News] = set()
        self._unheard = Unheard()

    @property
    def voice_dbfs(self) -> float:
        """The usual level of the operator's voice; what was given before it was heard."""
        return float(np.median(self._voices)) if self._voices else self._usual

    def listened(self, frame: Samples, floor_dbfs: float) -> News:
        """One frame in which nobody spoke, the program neither."""
        unheard = self._unheard.listened(frame)
        over = self.voice_dbfs - floor_dbfs
        changing = over >= QUIET_DB if self.noisy else over < LOUD_DB
        self._since = self._since + FRAME / SAMPLE_RATE if changing else 0.0
        if self._since > (QUIET_AFTER if self.noisy else LOUD_AFTER):
            self.noisy, self._since = not self.noisy, 0.0
            return "loud" if self.noisy else "quiet again"
        if frame.max() != frame.min():  # digital silence is a muted device, told apart
            self._highest = max(self._highest, floor_dbfs)
            low = floor_dbfs <= DEAD_DBFS or (
                floor_dbfs <= COVERED_DBFS and floor_dbfs <= self._highest - DROP_DB)
            self._dead = self._dead + FRAME / SAMPLE_RATE if low else 0.0
            if self._dead > COVERED_AFTER:
                return self._once("covered")
        return "unheard" if unheard else ""

    def nobody(self, sound: Samples, floor_dbfs: float) -> News:
        """The gate opened, and no speech was heard in the sound: a gust, or a word that was lost."""
        if speech_level(sound, floor_dbfs) < floor_dbfs + RISE_DB:
            return ""
        return "unheard" if self._unheard.risen() else ""

    def spoken(self, sound: Samples, floor_dbfs: float, understood: bool) -> News:
        """What was spoken of one utterance, from its first sound to its last; `understood` when
        it was taken for something that may be said."""
        self._dead = 0.0
        self._unheard.opened()
        level = speech_level(sound, floor_dbfs)
        if understood and not self._understood:  # the first voice that is surely the operator's
            self._understood = True
            self._voices.clear()
        if understood or not self._understood:
            self._voices.append(level)
        if np.mean(np.abs(sound.astype(np.int32)) >= FULL) > CLIPPED:
            return self._once("clipped")
        self._faint = self._faint + 1 if level < FAINT_DBFS else 0
        return self._once("faint") if self._faint >= FAINT_TIMES else ""

    def _once(self, news: News) -> News:
        """A thing that is told once a session."""
        if news in self._told:
            return ""
        self._told.add(news)
        return news
