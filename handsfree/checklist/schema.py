"""The keys of a checklist file: one table for the loader, its messages and the editor's schema.

Pure.  Imports nothing of ours.  What a value must look like is named by its *shape*; the loader
reads each shape and `json_schema` describes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Key:
    """One key: the shape of its value, what it is for, and whether it must be there."""

    shape: str
    help: str
    required: bool = False


CHECKLIST: dict[str, Key] = {
    "title": Key("text", "Name of the checklist, spoken at the start.", required=True),
    "says": Key("text", "Opening words, after the title."),
    "defers": Key("text", "Whose word stands above this checklist: manuals, codes, trades."),
    "closing": Key("text", "Spoken when the checklist is complete."),
    "language": Key("text", "Language of the spoken text: en, ko …"),
    "include": Key("texts", "Other files whose facts, gear, rules and parts are used here."),
    "facts": Key("map:fact", "What is true or false of rig and site."),
    "traits": Key("map:trait", "What a rig has or has not; the rig file decides."),
    "gear": Key("map:gear", "Things put out that must come back."),
    "limits": Key("map:limit", "Numbers of the rig that readings refer to."),
    "questions": Key("map:question", "Site questions, answered yes or no."),
    "motions": Key("map:act", "What can move, and hurt somebody or tear something as it does."),
    "exposures": Key("map:act", "Kinds of work that put somebody into danger."),
    "never": Key("list:rule", "Combinations of facts that must never occur."),
    "hazards": Key("map:hazard", "How somebody gets hurt, and which never rules forbid it."),
    "remedies": Key("map:remedy", "What to do when a step fails."),
    "parts": Key("map:part", "Named groups of steps for other files to use."),
    "sections": Key("map:text", "What the work of a part is called, if it may be done by heart:"
                    " 'water up: the water'."),
    "several": Key("map:several", "What a rig may have several of, each with steps of its own."),
    "steps": Key("list:step", "What is offered, in this order."),
    "inside while": Key("condition", "Without it no step inside is offered: nobody rides along."),
    "closes when": Key("condition", "What must hold before the checklist can close."),
}

FACT: dict[str, Key] = {
    "says": Key("text", "Clause spoken when it is so: 'the trailer is coupled'.", required=True),
    "otherwise": Key("text", "Clause spoken when it is not so."),
    "start": Key("flag", "True of a rig that nobody has recorded anything about."),
    "travel": Key("travel", "must: needed on the road; must not: forbidden on the road."),
    "fresh": Key("flag", "Forgotten whenever a checklist that uses it begins."),
    "evidence": Key("evidence", "It rests on a look, a test or a reading, and does not last."),
}

EVIDENCE: dict[str, Key] = {
    "minutes": Key("number", "After so long it has to be seen again; 0: time does not end it."),
    "days": Key("number", "Instead: so many days, counted by the record, in later sessions too."),
    "void by": Key("texts", "Acts and facts that end it; 'anything going out or coming in',"
                   " 'anybody going inside'."),
    "unless": Key("condition", "While this holds, time does not end it: something rests on it."),
}

ACT: dict[str, Key] = {
    "says": Key("text", "Clause: 'the rig moves', 'hands are at the coupler'.", required=True),
    "powered": Key("flag", "By a motor, an engine or gravity: it does not stop by itself."),
    "clear": Key("text", "Where nobody may stand; the caution of a step that has none."),
    "together": Key("flag", "With two operators, both have to agree to it."),
    "words": Key("text", "Regular expression: a challenge that it matches says that this is done."),
}

HAZARD: dict[str, Key] = {
    "harm": Key("text", "What happens to whom.", required=True),
    "grave": Key("flag", "Death or lasting injury is likely; what guards against it is read back."),
    "source": Key("text", "Who says so: a standard, a regulation, a manual, common practice.",
                  required=True),
    "unsafe": Key("list:unsafe", "The ways in which it comes about.", required=True),
    "left": Key("text", "What is left to the person."),
}

UNSAFE: dict[str, Key] = {
    "how": Key("how", "given, not given, too early, too late, or stopped too soon.", required=True),
    "what": Key("text", "What is then done or left undone.", required=True),
    "rule": Key("text", "Id of the never rule that forbids it.", required=True),
    "when": Key("condition", "What the rule has to cover.", required=True),
    "while": Key("texts", "Motions and exposures in which it has to ('while' of the rule)."),
    "stale": Key("map:texts", "Evidence: all that ends it; 'time', acts, facts, 'anything going"
                 " out', 'anybody going inside'."),
}

TRAIT: dict[str, Key] = {
    "says": Key("text", "Clause spoken when the rig has it.", required=True),
    "ask": Key("text", "The question that finds out, for a new rig file.", required=True),
    "calls": Key("map:text", "Words of the checklists: what such a rig is called instead."),
}

GEAR: dict[str, Key] = {
    "says": Key("text", "Clause spoken while it is out.", required=True),
    "otherwise": Key("text", "Clause spoken when it is back."),
    "count": Key("number", "How many pieces go out."),
}

SEVERAL: dict[str, Key] = {
    "called": Key("text", "Its word in the texts; an item's name is said before it.", required=True),
    "facts": Key("texts", "Facts that each has for itself.", required=True),
    "every": Key("texts", "Those that elsewhere count as so only if they are so of every one; the"
                 " others if they are so of any."),
    "motions": Key("texts", "Motions that each makes for itself."),
    "words": Key("map:text", "Words of the checklists: what is said where there are several."),
}

LIMIT: dict[str, Key] = {
    "default": Key("number", "Used when the rig file does not say.", required=True),
    "unit": Key("text", "Unit of the number.", required=True),
    "ask": Key("text", "The question that finds out, for a new rig file."),
    "only if": Key("condition", "Asked only of a rig that has these traits."),
}

QUESTION: dict[str, Key] = {
    "ask": Key("text", "The question, answered yes or no.", required=True),
    "says": Key("text", "Clause spoken when the answer was yes.", required=True),
    "otherwise": Key("text", "Clause spoken when the answer was no."),
    "only if": Key("condition", "Asked only while this holds."),
    "sum": Key("text", "What is worked out from the answers; a name from the table of sums."),
    "recalled as": Key("texts", "What a place is remembered by: how yes and how no is told when you"
                       " come back; never of what a never rule or an interlock hangs on."),
    "hangs on the rig": Key("flag", "The answer is remembered for the same rig only."),
}

RULE: dict[str, Key] = {
    "id": Key("text", "Short name, for the record.", required=True),
    "when": Key("condition", "The combination that must never occur.", required=True),
    "because": Key("text", "What would happen; spoken with a refusal.", required=True),
    "while": Key("texts", "Motions and exposures: nobody may do these while 'when' holds."),
    "now": Key("text", "The immediate action if it has happened after all (not with 'while')."),
    "respond": Key("texts", "What is answered once the danger is over (not with 'while'); of several"
                   " wordings the first is asked for."),
    "gives": Key("texts", "Facts that the immediate action makes true."),
    "ends": Key("texts", "Facts that the immediate action makes false."),
}

STEP: dict[str, Key] = {
    "id": Key("text", "Short name; also what 'go to …' understands.", required=True),
    "do": Key("text", "The challenge, at most about twelve words.", required=True),
    "detail": Key("text", "Said when more detail is asked for."),
    "why": Key("text", "Said when asked why, besides the rules."),
    "caution": Key("text", "Warning spoken before the challenge."),
    "place": Key("text", "Where it is done: hitch, left, right, rear, inside, pedestal …"),
    "role": Key("role", "inside or outside, for two people."),
    "respond": Key("texts", "The response, and nothing else will do; makes the step a hold point. Of"
                   " several wordings the first is asked for, and any counts."),
    "names": Key("texts", "Other names that 'go to …' understands."),
    "needs": Key("conditions", "Interlock: all must hold before start and report."),
    "after": Key("conditions", "Order of work, not safety: it waits until all of this is so."),
    "only if": Key("condition", "The step exists only while this holds."),
    "gives": Key("texts", "Facts that become true when it is done."),
    "ends": Key("texts", "Facts that become false; the step exists only while they are true."),
    "puts out": Key("texts", "Gear that goes out."),
    "brings back": Key("texts", "Gear that comes back; the step exists only while it is out."),
    "reading": Key("reading", "A measured value with unit and limits."),
    "rough": Key("text", "A reading that need not be exact, so that 'same as last time' answers it;"
                 " what is measured, as it is told at a place that is known: 'sewer hose'."),
    "sum": Key("text", "What is worked out here and spoken; a name from the table of sums."),
    "moves": Key("texts", "What moves while it is done; names of motions."),
    "exposes": Key("texts", "The dangerous work that it is; names of exposures."),
    "if it fails": Key("text", "The remedy."),
    "if it stops": Key("text", "The remedy when what a reading comes to says do not."),
    "if no": Key("text", "What to do when the answer is no; the step is then asked again."),
    "if no ends": Key("texts", "Facts that a no makes false: what this step was to show."),
    "must": Key("flag", "The checklist cannot close while this is open."),
    "each": Key("text", "A kind under 'several': there is such a step for every one of them."),
    "named": Key("named", "What is said where there are several: 'do' and 'respond', with {} for the"
                 " name of the one."),
    "waits": Key("wait", "Due some minutes after another step; runs beside the others meanwhile."),
    "takes": Key("minutes", "Expected minutes: one number, or [least, likely, most]."),
}

PART_USE: dict[str, Key] = {
    "part": Key("text", "Name of the part to use here.", required=True),
    "only if": Key("condition", "None of its steps exists without this."),
}
QUESTION_USE: dict[str, Key] = {"ask": Key("text", "Question to ask here.", required=True)}

READING: dict[str, Key] = {
    "of": Key("text", "Unit: volts, psi, degrees …", required=True),
    "between": Key("pair", "Lowest and highest: numbers or names of limits."),
    "at least": Key("bound", "Lowest: a number or the name of a limit."),
    "at most": Key("bound", "Highest: a number or the name of a limit."),
    "called": Key("text", "Name by which later sums find it; the step's id otherwise."),
}

WAIT: dict[str, Key] = {
    "after": Key("text", "Id of an earlier step; its report starts the wait.", required=True),
    "minutes": Key("number", "How long the wait is.", required=True),
}

REMEDY: dict[str, Key] = {
    "says": Key("text", "Spoken when the remedy starts.", required=True),
    "steps": Key("list:step", "Its own steps, before the failed step is tried again."),
    "tries": Key("number", "Failures after which it gives up (2)."),
    "shows": Key("texts", "Facts that the failure itself makes true."),
    "denies": Key("texts", "Facts that the failure itself makes false."),
    "gives up": Key("map of gives up", "What follows then.", required=True),
}

GIVES_UP: dict[str, Key] = {
    "says": Key("text", "Spoken when it gives up.", required=True),
    "gives": Key("texts", "Facts that become true."),
    "ends": Key("texts", "Facts that become false."),
}

KINDS: dict[str, str] = {
    "slides": "slide-out", "awnings": "awning", "black tanks": "waste tanks",
    "grey tanks": "waste tanks"}
"""What a rig file can list: the trait that a rig with such a list has."""

CHEMISTRIES: dict[str, str] = {
    "flooded": "flooded battery", "agm": "sealed battery", "gel": "sealed battery", "lithium": "lithium battery"}
"""What a bank can be made of, as a rig file has it in whatever case: the trait of a rig with such a bank."""

BATTERIES = "batteries"
"""What a step says under `each` that every bank has for itself."""

NAMED: dict[str, Key] = {
    "do": Key("text", "The challenge, with {} for the name."),
    "respond": Key("text", "The response, with {} for the name."),
}

RIG: dict[str, Key] = {
    "name": Key("text", "Name of the rig, spoken.", required=True),
    "has": Key("texts", "Traits that the rig has."),
    "has not": Key("texts", "Traits that it has not; given, one in neither list is asked about."),
    "units": Key("system", "US or metric: what it is asked and told in."),
    "region": Key("region", "US or Europe: whose codes count; without it the stricter of them."),
    "limits": Key("map:measure", "The rig's own numbers; with a unit where it is not the usual one."),
    "slides": Key("texts", "Names of its slide-outs, in the order in which they go out, each with its"
                  " side if you like: [living room left, bedroom right]."),
    "awnings": Key("texts", "Names of its awnings, in the order in which they go out."),
    "black tanks": Key("texts", "Names of its black tanks."),
    "grey tanks": Key("texts", "Names of its gray tanks; the last one rinses the hose."),
    "gray tanks": Key("texts", "The same, in the other spelling."),
    "batteries": Key("map:text", "Its banks, the one that feeds the rig first: {house: lithium 200 Ah, winch:"
                     " AGM 55 Ah}; flooded, AGM, gel or lithium."),
    "order": Key("order", "as written, or shortest: the permitted order that walks least."),
    "sides": Key("map:side", "On which side (left, right) its services are, and its door."),
    "places": Key("map:spot", "Where things are: [feet behind ball or kingpin, feet right of the"
                  " middle]; in front and left are below nought."),
    "notes": Key("text", "Anything for the owner."),
}

REGIONS = ("US", "Europe")
"""As `work.region` has them."""

ORDERS = ("as written", "shortest")
SIDES_OF: dict[str, Key] = {
    "services": Key("side", "Where tap, pedestal and outlets are: left or right."),
    "door": Key("side", "Where door, step and awning are: left or right."),
}

_TABLES = {
    "fact": FACT, "trait": TRAIT, "gear": GEAR, "limit": LIMIT, "question": QUESTION,
    "rule": RULE, "remedy": REMEDY, "act": ACT, "hazard": HAZARD, "unsafe": UNSAFE, "several": SEVERAL,
}

HOWS = ("given", "not given", "too early", "too late", "stopped too soon")
"""How a control action is unsafe: the guide questions of STPA (Leveson and Thomas, STPA Handbook,
2018, chapter 2)."""


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a checklist file, for editors."""
    schema = _object(CHECKLIST)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "handsfree checklist"
    return schema


def _object(keys: dict[str, Key]) -> dict[str, Any]:
    return {
        "type": "object",
        "additionalProperties": False,
        "required": [name for name, key in keys.items() if key.required],
        "properties": {
            name: {**_shape(key.shape), "description": key.help} for name, key in keys.items()
        },
    }


def _shape(shape: str) -> dict[str, Any]:
    text: dict[str, Any] = {"type": "string"}
    bound: dict[str, Any] = {"type": ["number", "string"]}
    texts: dict[str, Any] = {"oneOf": [text, {"type": "array", "items": text}]}
    simple: dict[str, dict[str, Any]] = {
        "text": text,
        "condition": text,
        "texts": texts,
        "conditions": texts,
        "flag": {"type": "boolean"},
        "number": {"type": "number"},
        "role": {"enum": ["inside", "outside", "both"]},
        "travel": {"enum": ["must", "must not"]},
        "how": {"enum": list(HOWS)},
        "bound": bound,
        "pair": {"type": "array", "items": bound, "minItems": 2, "maxItems": 2},
        "minutes": {"oneOf": [
            {"type": "number"},
            {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3},
        ]},
        "system": {"enum": ["US", "metric"]},
        "region": {"enum": list(REGIONS)},
        "map:measure": {"type": "object", "additionalProperties": bound},
        "map:number": {"type": "object", "additionalProperties": {"type": "number"}},
        "map:text": {"type": "object", "additionalProperties": text},
        "map:texts": {"type": "object", "additionalProperties": texts},
    }
    if shape in simple:
        return simple[shape]
    if shape == "reading":
        return _object(READING)
    if shape == "evidence":
        return _object(EVIDENCE)
    if shape == "named":
        return _object(NAMED)
    if shape == "wait":
        return _object(WAIT)
    if shape == "map of gives up":
        return _object(GIVES_UP)
    steps = {"type": "array", "items": {
        "oneOf": [_object(STEP), _object(PART_USE), _object(QUESTION_USE)]}}
    if shape == "list:step":
        return steps
    if shape == "map:part":
        return {"type": "object", "additionalProperties": steps}
    container, _, kind = shape.partition(":")
    inner = _object(_TABLES[kind])
    if kind in ("fact", "gear"):
        inner = {"oneOf": [text, inner]}
    if container == "list":
        return {"type": "array", "items": inner}
    return {"type": "object", "additionalProperties": inner}
