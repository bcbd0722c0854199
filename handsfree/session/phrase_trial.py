"""Are a checklist's own phrases heard?  Each is tried against all that may be said at its step.

May import the engine, the checklist model, the language and hearing rooms, `expecting`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from handsfree.audio import Samples, silence
from handsfree.checklist.model import Checklist, Origin
from handsfree.engine.state import Mode, State, Status
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Hypothesis, normal
from handsfree.language.matcher import Matcher
from handsfree.language.model import Language
from handsfree.session.expecting import expected
from handsfree.session.understanding import Bands


@dataclass(frozen=True)
class Own:
    """A phrase of the checklist's own.

    kind: "hold point", "danger" (a never rule's response) or "name" (of a step, after "go to").
    about: id of the step or rule.  grammar: all that may be said when this may.
    """

    kind: str
    about: str
    text: str
    grammar: Grammar = field(repr=False)

    @property
    def vital(self) -> bool:
        """Nothing else will do in its place."""
        return self.kind != "name"


def own_phrases(checklist: Checklist, language: Language, names: bool = True) -> list[Own]:
    """Responses of hold points, of never rules, and, if asked for, the steps' names, each once."""
    matcher = Matcher(language)
    traits = frozenset(f.name for f in checklist.facts.values() if f.origin is Origin.TRAIT)
    idle = State(checklist.start_facts | traits, tuple(Status.OPEN for _ in checklist.steps))
    found: list[Own] = []

    def add(kind: str, about: str, text: str, state: State) -> None:
        grammar = matcher.grammar(expected(checklist, state))
        if normal(text) in grammar.phrases and not any(o.text == normal(text) for o in found):
            found.append(Own(kind, about, normal(text), grammar))

    for step in checklist.steps.values():
        if step.hold:
            add("hold point", step.id, step.respond, replace(idle, at=step.id))
    for rule in checklist.rules:
        add("danger", rule.id, rule.respond, replace(idle, mode=Mode.ALARM, broken=rule.id))
    plain = next((s for s in checklist.steps.values() if not s.hold and not s.reading), None)
    at = plain or next(iter(checklist.steps.values()))
    for step in checklist.steps.values() if names else ():
        for name in step.spoken_names:
            add("name", step.id, f"{language.commands['go_to'][0]} {name}",
                replace(idle, at=at.id))
    return found


@dataclass
class Tried:
    """What became of one phrase in several voices and noises."""

    own: Own
    times: int = 0
    surely: int = 0
    """Heard right, and certainly."""
    asked: int = 0
    """Heard right, but the program would ask."""
    mistaken: Counter[str] = field(default_factory=Counter)
    """Taken for something else, certainly or not."""
    wrongly: int = 0
    """How many of these certainly."""

    @property
    def missed(self) -> int:
        """Not taken for anything."""
        return self.times - self.surely - self.asked - sum(self.mistaken.values())

    @property
    def sure(self) -> bool:
        """Heard surely at least three times in four, and never surely as something else."""
        return self.times > 0 and 4 * self.surely >= 3 * self.times and not self.wrongly


def tried(own: Own, listener: Listener, sounds: Iterable[Samples], bands: Bands) -> Tried:
    """Put a phrase's sounds, each with a second of its surroundings on either side, through the
    listener."""
    result = Tried(own)
    listener.expect(own.grammar)
    for sound in sounds:
        result.times += 1
        listener.mute()  # forget what is left of the one before
        listener.unmute()
        heard = listener.feed(sound) or listener.flush()
        while listener.feed(silence(0)) is not None:
            pass
        if not isinstance(heard, Hypothesis) or heard.confidence < bands.unsure:
            continue
        certain = heard.confidence >= bands.certain
        if heard.text == own.text:
            result.surely += certain
            result.asked += not certain
        else:
            result.mistaken[heard.text] += 1
            result.wrongly += certain
    return result
