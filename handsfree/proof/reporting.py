"""What the exploration found, as findings: one sentence and its mend, with the dialogue.

May import the checklist model and this room.
"""

from __future__ import annotations

from handsfree.checklist.conditions import NEVER, Condition, Literal, literals
from handsfree.checklist.model import Checklist, NeverRule, Step
from handsfree.engine.changes import Kind
from handsfree.language.statements import Clauses
from handsfree.proof import completion, safety
from handsfree.proof.declarations import rule_lines
from handsfree.proof.dialogue import replay
from handsfree.proof.findings import Finding, Line
from handsfree.proof.paths import Path, shortest, somewhere
from handsfree.proof.state_space import Node, Space
from handsfree.proof.stay import Move, Stay, forward


def clause(stay: Stay, literal: Literal) -> str:
    """'the wheels are chocked', or its opposite."""
    fact = stay.facts[literal.fact]
    return Clauses(fact.says or fact.name, fact.otherwise).of(literal.wanted)


def place(stay: Stay, move: Move) -> tuple[str, int, Step | None]:
    """(file, line, step) of what the move does; the step of a given checklist, if there is one."""
    owners = [owner for owner in stay.owners(move) if owner in stay.given] or [move.owner]
    owner = owners[0]
    step = owner.steps.get(move.change.subject)
    if move.kind is Kind.RESOLVE:
        return owner.file, rule_lines(owner).get(move.change.subject, 0), None
    if step is None:
        return owner.file, 1, None
    return step.file or owner.file, step.line, step


def breach(space: Space, found: safety.Breach) -> Finding:
    """A never rule that can be broken; in ring 3 the dialogue starts from a record."""
    stay, rule, move = space.stay, found.rule, found.move
    path = _path(space, found.states, found.ring, move).then(move)
    lines = replay(stay, path, breaks=rule.id, from_record=found.ring == 3)
    file, line, step = place(stay, move)
    end = Line("note", f"no interlock stops this: {_because(stay, rule, path)}")
    what = {
        Kind.BEGIN: f"beginning '{move.change.subject}' forgets what",
        Kind.RESOLVE: f"the immediate action of '{move.change.subject}' does what",
        Kind.GIVE_UP: f"giving up '{move.change.subject}' does what",
        Kind.YES: f"answering '{move.change.subject}' with yes makes so what",
        Kind.NO: f"answering '{move.change.subject}' with no makes so what",
    }.get(move.kind, f"'{move.change.subject}' can be reported when it")
    if rule.during:
        doing = " and ".join(sorted(rule.during & step.acts)) if step else "it"
        what = f"'{move.change.subject}' ({doing}) can be done when that"
    how = {1: "", 2: " once a report was taken back", 3: " once the record was corrected"}
    message = (f"{what} breaks the never rule '{rule.id}'{how[found.ring]}; "
               f"{_mend(space, found, step)}.")
    return Finding("never rule", message, file, line, (*lines, end), move.change.subject,
                   rule.id, found.ring)


def broken_start(space: Space, rule: NeverRule) -> Finding:
    """A never rule that is broken before anything was done."""
    stay = space.stay
    path = _path(space, space.where(rule.when), 1)
    owner = next(owner for owner in stay.checklists if rule in owner.rules)
    return Finding(
        "never rule", f"the never rule '{rule.id}' is broken before anything is done; correct "
        "'start:' of its facts, or the rule.", owner.file, rule_lines(owner).get(rule.id, 0),
        (Line("note", f"at the start {_because(stay, rule, path)}"),), "start", rule.id, 1)


def _path(space: Space, states: Node, ring: int, leading_to: Move | None = None) -> Path:
    """The shortest order; one within a single checklist, where there is one, reads better."""
    if ring == 3:
        return somewhere(space, states)
    stay = space.stay
    moves = stay.forward if ring == 1 else (*stay.forward, *stay.backward)
    owners = stay.owners(leading_to) if leading_to else ()
    for owner in sorted(owners, key=lambda checklist: checklist not in stay.given):
        own = [move for move in moves if owner in stay.owners(move)]
        path = shortest(space, own, space.start(), states)
        if path is not None:
            return path
    path = shortest(space, moves, space.start(), states)
    assert path is not None
    return path


def _because(stay: Stay, rule: NeverRule, path: Path) -> str:
    """The rule's literals as they have come out, and what would happen."""
    after = path.facts[-1]
    so = dict.fromkeys(Literal(literal.fact, literal.fact in after)
                       for literal in literals(rule.when)
                       if (literal.fact in after) is literal.wanted)
    return f"{' and '.join(clause(stay, literal) for literal in so)}: {rule.because}"


def _mend(space: Space, found: safety.Breach, step: Step | None) -> str:
    wanted = safety.mend(space, found)
    move, rule = found.move, found.rule
    if move.kind is Kind.BEGIN:
        forgotten = sorted(move.change.ends & rule.when.names())
        return (f"do not let '{forgotten[0]}' be forgotten at the start (no 'fresh:'), or word "
                "the rule so that not knowing is safe")
    if move.kind is Kind.RESOLVE:
        return f"mend 'gives:' or 'ends:' of the rule '{move.change.subject}'"
    if wanted == NEVER:
        return f"by itself it makes '{rule.when}' true: correct what it gives and ends"
    if step is not None and step.question:
        return f"add '{wanted}' to 'only if:' of the question '{step.id}'"
    other = f", or change what its remedy '{step.remedy}' gives up with" if (
        step is not None and move.kind is Kind.GIVE_UP) else ""
    return f"add '{wanted}' to 'needs:' of the step '{move.change.subject}'{other}"


def unwatched(space: Space, found: safety.Breach) -> Finding:
    """A rule that taking back breaks without anybody noticing."""
    stay = space.stay
    owner = next(o for o in stay.owners(found.move) if found.rule not in o.rules)
    path = _path(space, found.states, 2)
    lines = replay(stay, path)
    step = owner.steps[found.move.change.subject]
    return Finding(
        "unwatched", f"taking back '{step.id}' can break the never rule '{found.rule.id}', which "
        f"'{owner.id}' does not know; include the file that has the rule.",
        step.file or owner.file, step.line,
        (*lines, Line("note", f"taking back '{step.id}' now raises no alarm: "
                      f"{found.rule.because}")),
        step.id, found.rule.id, 2)


def endless_alarm(space: Space, checklist: Checklist, states: Node) -> Finding:
    """An alarm that the immediate actions do not end."""
    path = _path(space, states, 2)
    rule = next(r for r in checklist.rules if r.when.holds(path.facts[-1]))
    return Finding(
        "alarm", f"the never rule '{rule.id}' can stay broken after its immediate action; let its "
        "'gives:' or 'ends:' undo it in every case.",
        checklist.file, rule_lines(checklist).get(rule.id, 0), replay(space.stay, path),
        rule.id, rule.id, 2)


def never_permitted(
    space: Space, checklist: Checklist, step: Step, blame: Condition | None
) -> Finding:
    """A step that no order leads to, or an interlock that no order meets."""
    file = step.file or checklist.file
    if blame is None:
        applies = step.applicable if step.applicable.names() else step.needs
        return Finding(
            "unreachable", f"the step '{step.id}' can never be reached: never is it so that "
            f"{_joined(applies, step.needs)}; let earlier steps bring that about, or remove it.",
            file, step.line, subject=step.id)
    return Finding(
        "unsatisfiable", f"the step '{step.id}' can never be reached: it needs '{blame}', "
        f"{_nobody(space.stay, blame)}.", file, step.line, subject=step.id)


def _joined(*conditions: Condition) -> str:
    parts = [str(part) for condition in conditions for part in completion.parts_of(condition)
             if part.names()]
    return "'" + " and ".join(dict.fromkeys(parts)) + "'"


def _nobody(stay: Stay, blame: Condition) -> str:
    if isinstance(blame, Literal):
        made = any(move.effect.get(blame.fact) is blame.wanted for move in stay.forward)
        if not made:
            verb = "gives" if blame.wanted else "ends"
            return f"which no step {verb}; add '{verb}: [{blame.fact}]' to one, or drop it"
    return "which is never so while the step applies; drop it, or offer a way there"


def dead_end(stuck: completion.Stuck, checklist: Checklist) -> Finding:
    """A state from which the checklist cannot be closed."""
    space = stuck.space
    path = shortest(space, stuck.moves, stuck.start, stuck.states)
    assert path is not None
    facts = path.facts[-1]
    if stuck.step is not None:
        step = stuck.step
        missing = " and ".join(clause(space.stay, m) for m in step.needs.missing(facts))
        return Finding(
            "dead end", f"'{checklist.id}' can get to where it must not close without '{step.id}', "
            f"and that can no longer be done; let some step make it so again that {missing}, or "
            "drop 'must:'.", step.file or checklist.file, step.line,
            (*replay(space.stay, path),
             Line("note", f"'{step.id}' must be done and never can be: {missing}")),
            step.id)
    wanted = checklist.closes.missing(facts)
    what = " and ".join(clause(space.stay, m) for m in wanted) or "all that must be done is done"
    return Finding(
        "dead end", f"'{checklist.id}' can get to where it can no longer be closed; let some step "
        f"make it so again that {what}.", checklist.file, 1,
        (*replay(space.stay, path), Line("note", f"from here on it can never be so that {what}")),
        checklist.id)


def lost_gear(space: Space, checklist: Checklist, name: str, states: Node) -> Finding:
    """Gear that is out and cannot come back."""
    gear = name.removesuffix(" out")
    file, line, _ = next(place(space.stay, move) for move in forward(checklist)
                         if name in move.change.gives)
    path = _path(space, states, 2)
    return Finding(
        "gear", f"'{gear}' can be out with no way of bringing it back; add a step with "
        f"'brings back: [{gear}]' that is possible then.", file, line,
        (*replay(space.stay, path), Line("note", f"'{gear}' is out and can never come back")), name)
