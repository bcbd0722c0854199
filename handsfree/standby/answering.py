"""What is answered to a question that is asked standing by.

May import this room, the language and wording, the daylight sums.  Times of past lists and the
forecast come in by functions (`Times`), so that this room needs none of the review's libraries.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from handsfree.checklist.model import Checklist
from handsfree.errors import HandsfreeError
from handsfree.language.model import Language
from handsfree.language.statements import is_evidence
from handsfree.session.calculations import Calculations, Result
from handsfree.session.wording import Prompt, Wording
from handsfree.standby.phrases import Question, Words
from handsfree.standby.rig_knowledge import Known, Standing
from handsfree.work.daylight import until_dark
from handsfree.work.steps import ASKED, Given, asked


@dataclass(frozen=True)
class Compared:
    """A list that was finished today, against earlier times; minutes."""

    title: str
    minutes: float
    usual: float | None
    stays: int = 0
    """Earlier ones."""
    step: str = ""
    """The step that makes most of the difference."""
    more: float = 0.0
    """What it took more than usual, or less."""


@dataclass(frozen=True)
class Times:
    """What the history says."""

    roll: Callable[[], tuple[float, float] | None] = lambda: None
    """Usual and likely (80 %) minutes of packing up; None where nothing has to be packed.
    Raises HandsfreeError where it cannot tell."""
    today: Callable[[], Sequence[Compared]] = tuple


PARTS = ("microphone", "voice", "recogniser", "record", "disk")
"""What is looked at when it is asked whether it is all right."""


def spoken_language(language: Language, words: Words) -> Language:
    """The language with the sentences of standing by among its templates."""
    own = {f"standby.{key}": text for key, text in words.said.items()}
    return replace(language, templates={**language.templates, **own})


def without_keys(language: Language, words: Words, *, button: bool = False) -> Language:
    """The language with nothing that speaks of keys, for a box that has none, or one `button`."""
    own = words.with_a_button if button else {}
    return replace(language, templates={**language.templates, **words.instead, **own})


class Answers:
    """Words about one rig."""

    def __init__(
        self, known: Known | None, language: Language, words: Words, call: str,
        times: Times = Times(), now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
        failed: Callable[[], Collection[str]] = tuple,
    ) -> None:
        """`failed` looks which of `PARTS` do not work."""
        self._failed = failed
        self.known, self.words, self._call, self._times, self._now = known, words, call, times, now
        calls = known.lists[0].calls if known and known.lists else {}
        self._wording = Wording(Checklist("", "", {}, {}, (), calls=calls), spoken_language(language, words))

    def say(self, key: str, *, tone: str = "", **values: str) -> Prompt:
        """One of the sentences of standing by."""
        known = {"call": self._call, "confirm": self._wording.language.commands["confirm"][0],
                 "deny": self._wording.language.commands["deny"][0]}
        return self._wording.say(f"standby.{key}", tone=tone, **{**known, **values})

    # --- what can be said ------------------------------------------------------------------------

    def some(self, most: int, start: int = 0) -> str:
        """So many examples of what can be said, from one on; without a rig there are few."""
        if self.known is None:
            return self._wording.listed(
                (self.words.heard[one][0] for one in ("interview", "clock", "sleep")), most)
        examples = [one.replace("{list}", self.example_list()) for one in self.words.examples]
        turned = examples[start:] + examples[:start]
        return self._wording.listed(turned[:most], most)

    def example_list(self) -> str:
        """A list to name as an example: what comes next, else any."""
        if self.known is None:
            return ""
        coming = self.known.now().coming()[0]
        name = coming or self.known.following.roll
        return name.replace("-", " ")

    def lists(self) -> Prompt:
        """Their titles."""
        titles = [one.title for one in self.known.lists] if self.known else []
        return self.say("lists", lists=self._wording.listed(titles, 99))

    # --- the record ------------------------------------------------------------------------------

    def ready(self) -> list[Prompt]:
        """The first words, after any danger."""
        if self.known is None:
            return [self.say("ready"), self.say("no rig")]
        standing = self.known.now()
        told = [*self.danger(standing), self.say("ready")]
        if standing.last is not None and not standing.believed:
            told.append(self.say("not believed"))
        if standing.unfinished:
            told.append(self.say("unfinished", title=self.known.titled(standing.unfinished)))
        return told

    def danger(self, standing: Standing) -> list[Prompt]:
        """A never rule that is broken, as an alarm."""
        found = standing.danger()
        if found is None:
            return []
        because, now = found
        return [replace(self.say("danger", tone="alarm", because=because, now=now), key="alarm")]

    def out(self) -> list[Prompt]:
        """What is out."""
        standing = self._standing()
        if not standing.believed and standing.last is not None:
            return [self.say("not believed")]
        things = standing.out()
        told = [self.say("out", things=self._wording.listed(things, 99))] if things else []
        if not standing.told:
            told.append(self.say("never told"))
        elif not things:
            told.append(self.say("nothing out"))
        return [*self.danger(standing), *told]

    def question(self, asked: Question) -> list[Prompt]:
        """Yes or no, with what is on record in full."""
        standing = self._standing()
        if asked.fact in standing.known.lacking:
            thing = standing.known.lacks(asked.fact)
            return [self.say("has none", thing=thing) if thing else self.say("not this rig")]
        clauses = standing.known.clauses[asked.fact]
        if not standing.settled(asked.fact):
            return [self.say("nobody said", clause=clauses.of(asked.so))]
        so = asked.fact in standing.facts
        clause = clauses.of(so)
        told = [self.say("it is so" if so is asked.so else "it is not so", clause=clause)]
        if is_evidence(clause, self._wording.language.code):
            told.append(self.say("look first"))
        return told

    def check(self) -> list[Prompt]:
        """A sentence on each of `PARTS`, what has failed first."""
        failed = self._failed()
        told = [self.say(f"unwell {part}", tone="attention") for part in PARTS if part in failed]
        told += [self.say(f"well {part}") for part in PARTS if part not in failed]
        return told if failed else [*told, self.say("well all")]

    def next(self) -> list[Prompt]:
        """What comes next by the record."""
        return self._coming() or [self.say("nothing next")]

    def after_list(self) -> list[Prompt]:
        """What is said when a list has ended, by whatever way."""
        return self._coming()[:1]

    def _coming(self) -> list[Prompt]:
        """The list that is unfinished, else what the last one leads to and the one that follows."""
        standing = self._standing()
        if standing.unfinished:
            return [self.say("unfinished", title=standing.known.titled(standing.unfinished))]
        then, says = standing.coming()
        told = [self.say("next after", says=says)] if says else []
        if then:
            told.append(self.say("next", title=standing.known.titled(then)))
        return told

    def good_night(self) -> list[Prompt]:
        """What stands open tonight."""
        if self.known is None:
            return [self.say("good night")]
        standing = self.known.now()
        coming, _ = standing.coming()
        open_ = standing.unfinished or (
            coming if coming == self.known.following.night else "")
        said = self.say("good night open", title=self.known.titled(open_)) if open_ else (
            self.say("good night"))
        return [*self.danger(standing), said]

    def _standing(self) -> Standing:
        assert self.known is not None
        return self.known.now()

    # --- times -----------------------------------------------------------------------------------

    def roll(self) -> list[Prompt]:
        """How long packing up takes."""
        try:
            found = self._times.roll()
        except (HandsfreeError, ValueError, OSError) as problem:
            return [self.say("roll unknown", why=str(problem))]
        if found is None:
            return [self.say("roll nothing")]
        usual, likely = found
        return [self.say("roll", usual=self._lasting(usual), likely=self._lasting(likely))]

    def leave(self) -> list[Prompt]:
        """Whether the rig may be driven off: never a yes, but what stands in the way, and how long it takes."""
        return [*self.out(), *self.roll()]

    def dark(self, believed: bool) -> list[Prompt]:
        """When it gets dark here today."""
        if not believed:
            return [self.say("no clock")]
        numbers = self._numbers()
        if "latitude" not in numbers or "longitude" not in numbers:
            return [self.say("no place")]
        found = until_dark(numbers["latitude"], numbers["longitude"], self._now())
        if found.dusk is None or found.left_min is None or found.left_min <= 0:
            return [self._wording.say(f"sums.{found.say}")]
        return [self.say("dark", clock=found.dusk, left=self._lasting(found.left_min))]

    def lasting(self, name: str, believed: bool) -> list[Prompt]:
        """How long something lasts or how far it goes, by the rig's numbers."""
        if name == "sun" and not believed:
            return [self.say("no clock")]
        assert self.known is not None
        rig = self.known.rig
        found = asked(name, Given(numbers=rig.limits, facts=rig.feeding(), now=self._now(), region=rig.region))
        if not found:
            missing = [one for one in ASKED[name][1] if not rig.limits.get(one)] or ASKED[name][1]
            return [self.say("no numbers", names=self._wording.listed(missing, 99))]
        working = Calculations(replace(self._wording.checklist, units=rig.units, region=rig.region),
                               self._wording.language)
        return [working.prompt(Result("", name, one), self._wording) for one in found]

    def _numbers(self) -> Mapping[str, float]:
        """Of the rig file, without what a list takes unless it is told."""
        return self.known.rig.limits if self.known else {}

    def clock(self, believed: bool) -> list[Prompt]:
        """The time of day."""
        return [self.say("clock", clock=f"{self._now():%H:%M}") if believed else self.say("no clock")]

    def clock_doubted(self) -> Prompt:
        """What the clock says, to be confirmed."""
        now = self._now()
        return self.say("clock doubted", tone="attention", day=f"{now:%Y-%m-%d}",
                        clock=f"{now:%H:%M}")

    def compared(self) -> list[Prompt]:
        """How today went."""
        found = self._times.today()
        if not found:
            return [self.say("nothing today")]
        told: list[Prompt] = []
        for one in found:
            title, minutes = one.title, self._lasting(one.minutes)
            if one.usual is None:
                told.append(self.say("compared first", title=title, minutes=minutes))
                continue
            told.append(self.say("compared", title=title, minutes=minutes,
                                 usual=self._lasting(one.usual), stays=self._stays(one.stays)))
            if one.step and abs(one.more) >= 1:
                key = "compared more" if one.more > 0 else "compared less"
                told.append(self.say(key, step=one.step, more=self._lasting(abs(one.more))))
        return told

    def _lasting(self, minutes: float) -> str:
        return self._wording.lasting(max(1.0, math.floor(minutes + 0.5)))

    def _stays(self, count: int) -> str:
        return self._wording.say("standby.stays" if count != 1 else "standby.stay",
                                 count=str(count)).text
