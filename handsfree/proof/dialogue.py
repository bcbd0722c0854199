"""An order of moves as the words of operator and program, replayed through the live engine.

May import the engine, the session's wording, the language room and this room.  Nothing is
printed that `advance` did not do: a replay that does not get where the proof says it gets raises
`Disagreement`, which is a bug of ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache

from handsfree.checklist.model import Checklist, Step
from handsfree.engine.advance import advance, begin
from handsfree.engine.changes import Change, Kind, fail, give_up
from handsfree.engine.choosing import broken_rule
from handsfree.engine.reports import STOP
from handsfree.engine.state import (
    Answer,
    Confirm,
    Done,
    Effect,
    Event,
    Expired,
    Finish,
    GoTo,
    Mode,
    Problem,
    Read,
    Refused,
    Respond,
    Resume,
    State,
    Status,
    TakeBack,
)
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.proof.findings import Line
from handsfree.proof.paths import Facts, Path
from handsfree.proof.stay import Move, Stay
from handsfree.session.wording import Wording


class Disagreement(AssertionError):
    """The live engine did not do what the proof foresaw."""


def replay(stay: Stay, path: Path, breaks: str = "", from_record: bool = False) -> tuple[Line, ...]:
    """The dialogue of the path.

    Args:
        breaks: id of the never rule that the last move breaks (the engine must refuse it by its
            backstop, or the rule must be broken afterwards).
        from_record: the path starts in the middle of a session, from a corrected record.

    The proof lets a list go on where it was left, may count evidence that carrying on ends, and
    forgets how often a step has failed.  Where the whole order is not borne out, its last move is
    told, from the record as it is by then.

    Raises:
        Disagreement: the engine does something else.
    """
    tries: list[tuple[Path, dict[str, bool]]] = (
        [(path, {"from_record": True})] if from_record else
        [(path, {}), (path, {"all_begun": True})])
    if not from_record and path.moves:
        tries.append((Path(path.moves[-1:], path.facts[-2:]), {"from_record": True}))
    for told, how in tries:
        play = _Play(stay, told, breaks, **how)
        try:
            play.run()
        except Disagreement:
            if how is tries[-1][1]:
                raise
        else:
            return tuple(play.lines)
    raise AssertionError("unreachable")


class _Play:
    """One replay.  Switching checklists begins the other anew, or (all begun) goes on with it."""

    def __init__(self, stay: Stay, path: Path, breaks: str, *, from_record: bool = False,
                 all_begun: bool = False) -> None:
        self.stay, self.path, self.breaks = stay, path, breaks
        self.from_record, self.all_begun = from_record, all_begun
        self.owners = _owners(stay, path.moves)
        self.lines: list[Line] = []
        self.sessions: dict[str, State] = {}
        self.facts: Facts = self._real(path.facts[0])
        self.at: Checklist | None = None
        self.state = State(frozenset(), ())
        self.reached = False

    def run(self) -> None:
        if self.from_record:
            self._record()
        elif self.all_begun:
            for checklist in dict.fromkeys(self.owners):
                self._begin(checklist)
        elif not self.owners:
            self._begin(self.stay.given[0])
        self._must(self.facts == self._real(self.path.facts[0]))
        for move, owner, after in zip(self.path.moves, self.owners, self.path.facts[1:],
                                      strict=True):
            last = move is self.path.moves[-1]
            self._use(owner, move)
            self._make(move)
            if not (last and self.breaks):
                self._must(self.facts == self._real(after))
        if self.breaks:
            self._must(self.reached)

    def _real(self, facts: Facts) -> Facts:
        return facts & self.stay.facts.keys()

    def _must(self, condition: bool) -> None:
        if not condition:
            raise Disagreement(f"{[str(line) for line in self.lines]}")

    # --- sessions ------------------------------------------------------------------------------

    def _use(self, owner: Checklist, move: Move) -> None:
        if move.kind is Kind.BEGIN:
            return
        if self.at is owner:
            return
        if owner.id in self.sessions and (self.all_begun or self.from_record):
            self._leave()
            state = self.sessions[owner.id]
            rule = broken_rule(owner, self.facts)
            self.state = replace(state, facts=self.facts, broken=rule.id if rule else "")
            self.at = owner
            self._say(f"{_words(owner, 'resume')} ({owner.title})", Resume())
            return
        before = self.facts
        self._begin(owner)
        self._must(self.facts == before)

    def _leave(self) -> None:
        if self.at is not None:
            if self.state.mode not in (Mode.CLOSED, Mode.SUSPENDED):
                self._say(_words(self.at, "finish"), Finish())
            self.sessions[self.at.id] = self.state
            self.at = None

    def _begin(self, checklist: Checklist) -> None:
        self._leave()
        self.lines.append(Line("you", f"start {checklist.id}"))
        self.at = checklist
        self.state, effects = begin(checklist, self.facts)
        self._hear(effects)

    def _record(self) -> None:
        """Start in the middle: the record has been corrected to the first facts."""
        owner = self.owners[0]
        plain = self.stay.start | (self.facts & self.stay.traits.keys())
        other = [*(_clause(owner, fact, True) for fact in sorted(self.facts - plain)),
                 *(_clause(owner, fact, False) for fact in sorted(plain - self.facts))]
        self.lines.append(Line("note", "the record says: " + "; ".join(other)) if other else
                          Line("note", "the record is that of a rig that is only starting"))
        self.at = owner
        self.state = State(self.facts, tuple(Status.OPEN for _ in owner.steps))

    # --- moves ---------------------------------------------------------------------------------

    def _make(self, move: Move) -> None:
        if move.kind is Kind.BEGIN:
            self._begin(move.owner)
            return
        assert self.at is not None
        if move.kind is Kind.EXPIRE:
            self.lines.append(Line("note", "time goes by: "
                                   + _clause(self.at, move.change.subject, True)
                                   + " no longer counts"))
            self.state, effects = advance(self.at, self.state, Expired(move.change.subject))
            self._hear(effects)
            return
        if move.kind is Kind.RESOLVE:
            rule = next(rule for rule in self.at.rules if rule.id == move.change.subject)
            self._must(self.state.broken == rule.id)
            self._say(rule.respond, Respond())
            self._say(_words(self.at, "confirm"), Confirm())
            return
        step = self.at.steps[move.change.subject]
        if move.kind is Kind.TAKE_BACK:
            self._say(f"{_words(self.at, 'take_back_named')} {_name(step)}", TakeBack(step.id))
            return
        self._go(step)
        if move.kind is Kind.FAIL:
            self._fail(step, _stopped(self.at, step, move.change))
        elif move.kind is Kind.GIVE_UP:
            stopped = not move.failing and _stopped(self.at, step, move.change)
            remedy = self.at.failing(step, stopped)
            tries = 1 if move.failing or remedy is None else remedy.tries
            if remedy and tries > 1 and fail(self.at, step, remedy).apply(self.facts) != self.facts:
                often = "once" if tries == 2 else f"{tries - 1} times"
                self.lines.append(Line("note", f"{step.id} has failed {often} before"))
                before = {**dict(self.state.tries), step.id: tries - 1}
                self.state = replace(self.state, tries=tuple(sorted(before.items())))
                tries = 1
            for _ in range(tries):
                self._go(step)
                self._fail(step, stopped)
                if not move.failing and dict(self.state.tries).get(step.id, 0) >= tries:
                    break
        elif step.question:
            yes = move.kind is Kind.YES
            said = min(_language(self.at.language).commands["yes" if yes else "no"], key=len)
            self._say(said, Answer(yes))
        elif step.reading:
            self._say(f"(a value within the limits, in {step.reading.unit})", Read("within"))
            self._say(_words(self.at, "confirm"), Confirm())
        elif step.hold:
            self._say(step.respond, Respond())
            if step.readback:
                self._say(_words(self.at, "confirm"), Confirm())
        else:
            self._say(_words(self.at, "done"), Done())

    def _go(self, step: Step) -> None:
        if self.state.at != step.id:
            assert self.at is not None
            self._say(f"{_words(self.at, 'go_to')} {_name(step)}", GoTo(step.id))
            self._must(self.state.at == step.id)

    def _fail(self, step: Step, stopped: bool) -> None:
        assert self.at is not None
        if (step.remedy or step.stop) and not stopped:
            self._say(_words(self.at, "problem"), Problem())
            return
        assert step.reading is not None
        band = STOP if stopped else "low" if step.reading.low is not None else "high"
        told = "that says do not" if stopped else f"that is too {band}"
        self._say(f"(a value {told}, in {step.reading.unit})", Read(band))
        self._say(_words(self.at, "confirm"), Confirm())

    def _say(self, text: str, event: Event) -> None:
        assert self.at is not None
        self.lines.append(Line("you", text))
        self.state, effects = advance(self.at, self.state, event)
        self._hear(effects)

    def _hear(self, effects: Iterable[Effect]) -> None:
        assert self.at is not None
        self.facts = self.state.facts
        for effect in effects:
            if isinstance(effect, Refused):
                if effect.backstop and (self.reached or self._broken(self.path.facts[-1])):
                    self.reached = True
                    return
                raise Disagreement(f"refused {effect.step}: {[str(m) for m in effect.missing]}")
        self.reached = self.reached or self._broken(self.facts)
        rule = next((r for r in self.at.rules if r.id == self.state.broken), None)
        known = {"reading": "that", **({"respond": rule.respond} if rule else {})}
        for prompt in Wording(self.at, _language(self.at.language)).prompts(effects, **known):
            self.lines.append(Line("it", prompt.text or f"({prompt.tone})"))

    def _broken(self, facts: Facts) -> bool:
        return any(rule.id == self.breaks and rule.when.holds(facts)
                   for rule in (*self.stay.rules, *self.stay.conduct))


def _stopped(checklist: Checklist, step: Step, change: Change) -> bool:
    """Whether it takes a verdict that says do not: a mere failure would change other facts."""
    plain, stop = checklist.failing(step), checklist.failing(step, True)
    if plain is None or stop is None or plain is stop:
        return False
    made, stopping = ((fail(checklist, step, remedy), give_up(checklist, step, remedy))
                      for remedy in (plain, stop))
    return change not in made and change in stopping


def _owners(stay: Stay, moves: Sequence[Move]) -> list[Checklist]:
    """Whose session each move is made in: as few changes of checklist as possible."""
    chosen: list[Checklist] = []
    run: list[Checklist] = []
    length = 0
    for move in moves:
        owners = [move.owner] if move.kind is Kind.BEGIN else list(stay.owners(move))
        both = [owner for owner in run if owner in owners]
        if length and not both:
            chosen += [run[0]] * length
            length, both = 0, owners
        run, length = both or owners, length + 1
    return chosen + [run[0]] * length if length else chosen


def _words(checklist: Checklist, command: str) -> str:
    return _language(checklist.language).commands[command][0]


@cache
def _language(code: str) -> Language:
    return load_language(code)


def _name(step: Step) -> str:
    return step.spoken_names[0]


def _clause(checklist: Checklist, name: str, value: bool) -> str:
    fact = checklist.facts.get(name)
    if fact is None:
        return name if value else f"not {name}"
    return fact.says or name if value else fact.otherwise or f"not so: {fact.says or name}"
