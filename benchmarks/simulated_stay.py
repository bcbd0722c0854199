"""One simulated stay: arriving and departing, an operator who speaks, everything that is misheard.

May import everything of the program.  Words are spoken, mixed with noise and recognised for real,
with what may be said at that moment; what was heard goes through the real conversation.  Each
(words, what may be said, voice, noise, ratio, first or further try at a step) is recognised once,
and drawn again when it comes again: a thousand stays hold some hundred thousand utterances, but the
sound of each belongs to a pool, so mistakes come in families (`Ears.recognised` is the size of the
pool that was heard).  The endpointer is left out: an utterance comes framed, as it would hand it
over.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, fields, replace

from benchmarks.soak import WanderingOperator
from benchmarks.speakers import Say, framed
from handsfree.audio import Samples
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Confirm, Deny, Mode, State, Unsure
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser, normal
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.by_heart import ByHeart
from handsfree.session.conversation import Conversation
from handsfree.session.manner import Manner
from handsfree.session.understanding import Meaning, understand
from handsfree.session.wording import Prompt
from handsfree.sound.mixing import mix_at_snr
from handsfree.storage.lines import Line
from handsfree.storage.mastery import Known
from handsfree.storage.record import record_for

_TURN = 8.0
"""Seconds of session time from one answer to the next."""

_MOST_TURNS = 1_000

_TAKES = 5
"""How differently the same words are said by one voice in one noise."""


@dataclass(frozen=True)
class Way:
    """How an operator sounds: voice, noise around, ratio in dB."""

    voice: str
    noise: str
    snr: int
    take: int = 0
    """0 at first; when the same words are said again at a step, another breath and gust."""


class Ears:
    """Says words in a `Way` and gives what the recogniser makes of them."""

    def __init__(self, recogniser: Recogniser, voices: Mapping[str, Say],
                 noises: Mapping[str, Samples], aloud: Callable[[str], str], seed: int) -> None:
        self._recogniser, self._voices, self._noises = recogniser, voices, noises
        self._aloud, self._seed = aloud, seed
        self._sounds: dict[tuple[str, Way], Samples] = {}
        self._heard: dict[tuple[str, Way, Grammar], Heard] = {}

    @property
    def recognised(self) -> int:
        """Utterances that were recognised, the others being drawn again."""
        return len(self._heard)

    def hear(self, words: str, way: Way, grammar: Grammar) -> Heard:
        """What is heard of the words."""
        key = (words, way, grammar)
        if key not in self._heard:
            sound = self._sound(words, way)
            self._recogniser.expect(grammar)
            self._recogniser.begin()
            early = None
            for at in range(0, len(sound), 640):
                early = self._recogniser.feed(sound[at : at + 640])
                if early is not None:
                    break
            self._heard[key] = early or self._recogniser.finish()
        return self._heard[key]

    def _sound(self, words: str, way: Way) -> Samples:
        if (words, way) not in self._sounds:
            rng = random.Random(f"{self._seed} {words} {way}")
            speech = framed(self._voices[way.voice](self._aloud(words), rng), rng)
            under = self._noises[way.noise]
            at = rng.randrange(len(under) - len(speech))
            self._sounds[words, way] = mix_at_snr(speech, under[at : at + len(speech)], way.snr)
        return self._sounds[words, way]


@dataclass
class Kept:
    """What was counted over all stays.

    turns: utterances to a prompt; at hold points (their readbacks and alarms counted with them)
    and elsewhere.  wrong: the state changed by another event than the one that was said.  extra:
    turns that the step would not have needed had all been heard rightly and surely.
    """

    stays: int = 0
    closed: int = 0
    steps: int = 0
    prompts: int = 0
    turns: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    extra: int = 0
    rejected: int = 0
    asked: int = 0
    harmless: int = 0
    """Heard wrongly and surely, but nothing on the record changed."""
    refused: int = 0
    """Orders that the interlocks refused."""
    keyed: int = 0
    """Answered by key, after five vain repetitions."""
    mistakes: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)
    """(where, step, said, heard) of each wrong state change."""
    slips: Counter[tuple[str, str]] = field(default_factory=Counter)
    """(said, heard) of what was `harmless`."""

    def add(self, other: Kept) -> None:
        """Count what another counted as well."""
        for field_ in fields(self):
            mine = getattr(self, field_.name)
            setattr(self, field_.name, mine + getattr(other, field_.name))


def stay(
    checklists: tuple[Checklist, ...], rig: Rig, language: Language, ears: Ears, way: Way,
    chance: random.Random, kept: Kept, by_heart: bool = False,
) -> None:
    """One stay from the first checklist to the last; what was left is the next one's record."""
    facts: frozenset[str] | None = None
    for checklist in checklists:
        record = record_for(checklist, rig, None).facts if facts is None else facts | rig.has
        script = Script(answers={name: chance.random() < 0.7 for name in checklist.steps})
        operator = WanderingOperator(script, checklist, language, chance)
        session = _Session(checklist, language, operator, ears, way, kept, by_heart)
        session.run(record)
        kept.closed += session.conversation.state.mode is Mode.CLOSED
        facts = session.conversation.state.facts
    kept.stays += 1


class _NoLog:
    def write(self, line: Line, t: float, who: str = "") -> None:
        """Nothing is kept."""


class _Session:
    """One checklist, turn by turn."""

    def __init__(self, checklist: Checklist, language: Language, operator: WanderingOperator,
                 ears: Ears, way: Way, kept: Kept, by_heart: bool) -> None:
        self.conversation = ByHeart(
            checklist, language, _NoLog(), manner=Manner(by_heart=True),
            known=Known(frozenset(checklist.steps))) if by_heart else Conversation(
                checklist, language, _NoLog())
        self._checklist, self._operator, self._ears = checklist, operator, ears
        self._way, self._kept = way, kept
        self._t = 0.0
        self._pending_wrong = ""
        self._doubtful = False
        self._at = ""
        self._said: Counter[str] = Counter()

    def run(self, record: frozenset[str]) -> None:
        """Until it is over, or for as many turns as no session needs."""
        self._spoken(self.conversation.begin(record, 0.0))
        for _ in range(_MOST_TURNS):
            if self.conversation.over:
                break
            self._t += _TURN
            words, keys = self._operator.answer(), self._operator.keyed()
            for key in keys:
                self._kept.keyed += 1
                self._spoken(self.conversation.hear(Hypothesis(key, 1.0, 0, 0), self._t))
            if keys:
                pass
            elif words:
                self._turn(words)
            else:
                self._operator.unanswered()
                self._t += 60.0
            self._spoken(self.conversation.remind(self._t))
            if self.conversation.noting:
                self._spoken(self.conversation.noted(self._t, ""))

    def _spoken(self, prompts: list[Prompt]) -> None:
        for prompt in prompts:
            self._kept.prompts += 1
            self._kept.steps += prompt.key == "offer"
            self._kept.refused += prompt.key == "refused"
            self._operator.hear(prompt)

    def _turn(self, words: str) -> None:
        talk, kept = self.conversation, self._kept
        before, where = talk.state, self._where(talk.state)
        self._said = self._said if before.at == self._at else Counter()
        self._at = before.at
        way = replace(self._way, take=self._said[words] % _TAKES)
        self._said[words] += 1
        heard = self._ears.hear(words, way, talk.grammar())
        meant = self._meaning(Hypothesis(normal(words), 1.0, 0, 0), before)
        meaning = self._meaning(heard, before)
        prompts = talk.hear(heard, self._t)
        kept.turns[where] += 1
        wrong = _means(meaning) != _means(meant)
        after = talk.state
        if meaning.verdict == "rejected":
            kept.rejected += _means(meant) is not None
        elif meaning.verdict == "asked":
            kept.asked += 1
        elif wrong and _record(before) == _record(after):
            kept.harmless += 1
            kept.slips[words, heard.text if isinstance(heard, Hypothesis) else ""] += 1
        self._extra(meant, meaning, wrong)
        if _record(before) != _record(after):
            astray = self._pending_wrong if isinstance(meaning.event, Confirm) else ""
            if wrong or astray:
                kept.wrong[where] += 1
                text = heard.text if isinstance(heard, Hypothesis) else ""
                kept.mistakes[where, before.at, words, astray or text] += 1
        if after.mode is Mode.CONFIRM and before.mode is not Mode.CONFIRM:
            self._pending_wrong = heard.text if wrong and isinstance(heard, Hypothesis) else ""
        elif after.mode is not Mode.CONFIRM:
            self._pending_wrong = ""
        self._spoken(prompts)

    def _extra(self, meant: Meaning, meaning: Meaning, wrong: bool) -> None:
        """A turn that was in vain, or an answer to a question that only doubt had asked."""
        if _means(meant) is None:
            return  # talk to others
        self._kept.extra += wrong or meaning.verdict != "accepted" or self._doubtful
        self._doubtful = meaning.verdict == "asked" and not isinstance(
            meaning.event, (Confirm, Deny))

    def _meaning(self, heard: Heard, state: State) -> Meaning:
        talk = self.conversation
        return understand(heard, self._checklist, state, talk.matcher, talk.bands)

    def _where(self, state: State) -> str:
        step = self._checklist.steps.get(state.at)
        return "hold" if state.broken or step and step.hold and step.readback else "elsewhere"


def _means(meaning: Meaning) -> Hashable:
    """What was meant, doubt left aside; None where it is nothing."""
    event = meaning.event.event if isinstance(meaning.event, Unsure) else meaning.event
    if meaning.verdict == "rejected" and not meaning.other_unit:
        return None
    return (event, meaning.own, tuple(r.value for r in meaning.readings), meaning.other_unit)


def _record(state: State) -> State:
    """The state without what only waits for its confirmation."""
    mode = Mode.STEP if state.mode is Mode.CONFIRM else state.mode
    return replace(state, pending=None, mode=mode)
