"""What the checklist files say, read and judged a second time, by other means.

Nothing of `handsfree` is imported here: files are read by PyYAML as plain text, conditions are
handed to Python's own parser, and what steps, rules, evidence and remedies mean is written from
the descriptions in the schema and DEVELOPERS.md.  A `World` is one checklist for one rig with a
record that it keeps by itself, from the bare news of what was reported, failed or taken back.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import yaml

Holds = Callable[[set[str]], bool]
Tree = dict[str, object]

_PLAIN = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
_WORD = re.compile(r"\(|\)|[^\s()]+")


CHEMISTRY = {"flooded": "flooded battery", "agm": "sealed battery", "gel": "sealed battery",
             "lithium": "lithium battery"}
"""What a bank can be made of, as README lists it, and what `rig.yaml` calls a rig with such a bank."""


class Disagreement(AssertionError):
    """The program did, offered or believed what the files do not allow."""


# --- conditions ---------------------------------------------------------------------------------

@cache
def condition(text: str) -> Holds:
    """A condition as a function of what is true; Python reads its `and`, `or`, `not`."""
    return eval(f"lambda facts: bool({_python(text)})")


def _python(text: str) -> str:
    out: list[str] = []
    name: list[str] = []
    for word in (*_WORD.findall(text), ""):
        if word in ("and", "or", "not", "(", ")", ""):
            if name:
                out.append(f"({' '.join(name)!r} in facts)")
                name = []
            out.append(word)
        else:
            name.append(word)
    return " ".join(out)


@cache
def names_in(text: str) -> frozenset[str]:
    """The facts that a condition mentions."""
    return frozenset(re.findall(r"\('([^']+)' in facts\)", _python(text))
                     + re.findall(r"\(\"([^\"]+)\" in facts\)", _python(text)))


def denied_in(text: str) -> frozenset[str]:
    """The facts of which a condition asks that they are not so."""
    return frozenset(re.findall(r"not \(['\"]([^'\"]+)['\"] in facts\)", _python(text)))


# --- files --------------------------------------------------------------------------------------

@cache
def tree(path: Path) -> Tree:
    """A file as dictionaries, lists and texts (no type is guessed: `no` stays a word)."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=_PLAIN)


def listed(value: object) -> list[str]:
    """One text, or a list of them."""
    if value is None:
        return []
    items = value if isinstance(value, list) else [value]
    return [" ".join(str(item).split()) for item in items]


def yes(value: object) -> bool:
    """A flag."""
    return str(value).lower() in ("yes", "true")


def with_includes(path: Path, library: Path) -> tuple[Tree, list[Tree]]:
    """The file itself, and everything it includes (each once, includes first)."""
    found: dict[Path, Tree] = {}

    def visit(file: Path) -> None:
        if file in found:
            return
        found[file] = tree(file)
        for name in listed(found[file].get("include")):
            near = (file.parent / name, file.parent.parent / name, library / name)
            visit(next(one for one in near if one.is_file()).resolve())

    visit(path.resolve())
    return found[path.resolve()], list(found.values())


# --- what the files say -------------------------------------------------------------------------

@dataclass
class Failure:
    """What a no, a failure or a stop brings about."""

    name: str
    shows: set[str] = field(default_factory=set)
    denies: set[str] = field(default_factory=set)
    tries: int = 0
    gives: set[str] = field(default_factory=set)
    ends: set[str] = field(default_factory=set)


@dataclass
class Deed:
    """One step, or one question about the site."""

    name: str
    question: bool = False
    only_if: list[Holds] = field(default_factory=list)
    needs: list[Holds] = field(default_factory=list)
    gives: set[str] = field(default_factory=set)
    ends: set[str] = field(default_factory=set)
    acts: set[str] = field(default_factory=set)
    inside: bool = False
    both: bool = False
    fails: Failure | None = None
    stops: Failure | None = None
    made_of: str = ""
    """Of a step about one bank of several: its chemistry, and for this step there is no other."""

    def applies(self, facts: set[str]) -> bool:
        about = facts - set(CHEMISTRY.values()) | {self.made_of} if self.made_of else facts
        return self.ends <= facts and all(one(about) for one in self.only_if)


@dataclass
class Rule:
    """A never rule; with `acts` about what is done."""

    name: str
    holds: Holds
    acts: set[str]
    gives: set[str]
    ends: set[str]


@dataclass
class Look:
    """How long evidence lasts."""

    minutes: float
    void_by: set[str]
    unless: Holds | None
    lasting: bool = False
    """It is told by days, and goes over to the next session."""


class World:
    """A checklist for a rig, with the record that must follow from what was reported."""

    def __init__(self, path: Path, library: Path, rig: Path) -> None:
        self.top, files = with_includes(path, library)
        self.banks = {str(name).replace(" ", "-"): CHEMISTRY[str(made).split()[0].lower()]
                      for name, made in (tree(rig).get("batteries") or {}).items()}
        self.facts: set[str] = set()
        self.minute = 0.0
        self.seen: dict[str, float] = {}
        self.failures: dict[str, int] = {}
        self.start: set[str] = set()
        self.fresh: set[str] = set()
        self.road: dict[str, bool] = {}
        """Fact -> the value that the road forbids."""
        self.looks: dict[str, Look] = {}
        self.rules: list[Rule] = []
        self.deeds: dict[str, Deed] = {}
        self.together: set[str] = set()
        self.acts: set[str] = set()
        parts: Tree = {}
        remedies: Tree = {}
        questions: Tree = {}
        for file in files:
            self._facts(file)
            parts |= file.get("parts") or {}
            remedies |= file.get("remedies") or {}
            questions |= file.get("questions") or {}
            for key in ("motions", "exposures"):
                for name, act in (file.get(key) or {}).items():
                    self.acts.add(name)
                    if yes(act.get("together")):
                        self.together.add(name)
            for rule in file.get("never") or []:
                self.rules.append(Rule(
                    rule["id"], condition(" ".join(rule["when"].split())),
                    set(listed(rule.get("while"))), set(listed(rule.get("gives"))),
                    set(listed(rule.get("ends")))))
        self._questions, self._parts, self._remedies = questions, parts, remedies
        waiting = [self.top["steps"]]
        named: set[str] = set()
        self._asked: dict[str, set[str]] = {}
        while waiting:
            for remedy in self._steps(waiting.pop()):
                if remedy not in named:
                    named.add(remedy)
                    waiting.append(remedies[remedy].get("steps") or [])
        for name, mentions in self._asked.items():
            for question in sorted(mentions & {d.name for d in self.deeds.values() if d.question}):
                self.deeds[name].only_if.append(condition(f"{question} answered"))

    def _facts(self, file: Tree) -> None:
        for name, fact in (file.get("facts") or {}).items():
            if isinstance(fact, str):
                continue
            if yes(fact.get("start")):
                self.start.add(name)
            if yes(fact.get("fresh")):
                self.fresh.add(name)
            if "travel" in fact:
                self.road[name] = fact["travel"] == "must not"
            if "evidence" in fact:
                look = fact["evidence"]
                self.looks[name] = Look(
                    float(look.get("minutes", 1440 * look.get("days", 0))), set(listed(look.get("void by"))),
                    condition(" ".join(look["unless"].split())) if "unless" in look else None,
                    "days" in look)
        for name in file.get("gear") or {}:
            self.road[f"{name} out"] = True

    def _steps(self, items: list) -> list[str]:
        """Take in a list of steps; the names of the remedies that they use."""
        used: list[str] = []
        for item in items:
            if "part" in item:
                used += self._steps(self._parts[item["part"]])
            elif "ask" in item and "id" not in item:
                name = item["ask"]
                asked = self._questions[name]
                self._take_in(Deed(name, question=True, gives={name}),
                              listed(asked.get("only if")), [])
            elif item.get("each") == "batteries" and len(self.banks) > 1:
                for bank, made_of in self.banks.items():
                    own = f"{bank}-{item['id']}"
                    used += self._step({**item, "id": own})
                    self.deeds[own].made_of = made_of
            else:
                used += self._step(item)
        return used

    def _step(self, item: Tree) -> list[str]:
        def facts(key: str) -> set[str]:
            return set(listed(item.get(key)))

        def gear(key: str) -> set[str]:
            return {f"{name} out" for name in listed(item.get(key))}

        deed = Deed(
            str(item["id"]), gives=facts("gives") | gear("puts out"),
            ends=facts("ends") | gear("brings back"), acts=facts("moves") | facts("exposes"),
            inside="inside" in (item.get("role"), item.get("place")),
            both=item.get("role") == "both")
        if item.get("role") == "inside" and "inside" in self.acts:
            deed.acts.add("inside")
        deed.both |= bool(deed.acts & self.together)
        used: list[str] = []
        if "if no" in item:
            deed.fails = Failure(f"{deed.name} no", denies=facts("if no ends"))
        for key in ("if it fails", "if it stops"):
            if key in item:
                used.append(str(item[key]))
                failure = self._failure(used[-1])
                if key == "if it fails":
                    deed.fails = failure
                else:
                    deed.stops = failure
        needs = listed(item.get("needs")) + listed(item.get("after"))
        if item.get("role") == "inside":
            needs += listed(self.top.get("inside while"))
        self._take_in(deed, listed(item.get("only if")), needs)
        return used

    def _take_in(self, deed: Deed, only_if: list[str], needs: list[str]) -> None:
        deed.only_if = [condition(text) for text in only_if]
        deed.needs = [condition(text) for text in needs]
        own = set().union(*(names_in(text) for text in only_if))
        for text in needs:  # what waits for a yes waits for the answer anyway
            own |= denied_in(text)
        self._asked[deed.name] = own
        self.deeds[deed.name] = deed

    def _failure(self, name: str) -> Failure:
        remedy = self._remedies[name]
        end = remedy["gives up"]
        return Failure(name, set(listed(remedy.get("shows"))), set(listed(remedy.get("denies"))),
                       int(remedy.get("tries", 2)), set(listed(end.get("gives"))),
                       set(listed(end.get("ends"))))

    # --- judging --------------------------------------------------------------------------------

    def forbidding(self, deed: Deed) -> list[str]:
        """Ids of the rules about what is done that forbid the step now."""
        return [rule.name for rule in self.rules
                if rule.acts & deed.acts and rule.holds(self.facts)]

    def broken(self) -> list[str]:
        """Ids of the rules about how things are that are broken now."""
        return [rule.name for rule in self.rules if not rule.acts and rule.holds(self.facts)]

    def may(self, deed: Deed) -> bool:
        """Whether the step may be begun and reported now."""
        return (deed.applies(self.facts) and all(one(self.facts) for one in deed.needs)
                and not self.forbidding(deed))

    # --- what happens ---------------------------------------------------------------------------

    def begin(self, record: Iterable[str]) -> None:
        """A checklist begins with what is on the record."""
        self.facts = set(record) - self.fresh
        for deed in self.deeds.values():
            if deed.question:
                self.facts -= {deed.name, f"{deed.name} answered"}
        self.failures.clear()
        self.facts -= {name for name in self.looks if self._by_time(name)
                       and not self.looks[name].lasting}
        self.seen = dict.fromkeys(self.looks, self.minute)

    def came_back(self) -> None:
        """After a pause, or at the start of a session: nothing that time would end counts."""
        self.facts -= {name for name in self.looks if self._by_time(name)}

    def _by_time(self, name: str) -> bool:
        look = self.looks[name]
        held = look.unless is not None and look.unless(self.facts)
        return bool(look.minutes) and name in self.facts and not held

    def stale(self) -> list[str]:
        """Evidence that is too old by now."""
        return [name for name, look in self.looks.items() if self._by_time(name)
                and self.minute - self.seen.get(name, self.minute) >= look.minutes]

    def grown_old(self, name: str) -> None:
        """Time has ended it, unless something rests on it."""
        if self._by_time(name):
            self.facts.discard(name)

    def _change(self, gives: set[str], ends: set[str], acts: set[str], kept: set[str],
                inside: bool = False) -> None:
        """Facts change; what was looked at before is void where its file says so.

        A step's changes count whether or not they were so before: done again is done anew.
        """
        happens = acts | gives | ends
        if happens & self.road.keys():
            happens |= {"anything going out or coming in"}
        if inside:
            happens |= {"anybody going inside"}
        void = {name for name, look in self.looks.items() if look.void_by & happens}
        self.facts = (self.facts - ends - (void - kept)) | gives

    def done(self, name: str) -> None:
        """The step was accepted as done."""
        deed = self.deeds[name]
        if not self.may(deed):
            raise Disagreement(f"'{name}' was taken as done; forbidding: {self.forbidding(deed)},"
                               f" applies: {deed.applies(self.facts)}")
        self._change(deed.gives, deed.ends, deed.acts, deed.gives, deed.inside)
        self.seen |= dict.fromkeys(deed.gives, self.minute)

    def answered(self, name: str, positive: bool) -> None:
        """A question about the site was answered."""
        self.facts.add(f"{name} answered")
        (self.facts.add if positive else self.facts.discard)(name)

    def failed(self, name: str, stopped: bool) -> None:
        """The step's answer was no."""
        deed = self.deeds[name]
        failure = (deed.stops if stopped else None) or deed.fails or deed.stops
        if failure is None:
            return
        self.failures[name] = self.failures.get(name, 0) + 1
        self._change(failure.shows, failure.denies, set(), failure.shows)
        self.facts -= deed.gives & self.looks.keys() - failure.shows

    def gave_up(self, name: str, remedy: str) -> None:
        """The step has failed too often."""
        deed = self.deeds[name]
        failure = next(one for one in (deed.fails, deed.stops) if one and one.name == remedy)
        if not failure.tries or self.failures.get(name, 0) < failure.tries:
            raise Disagreement(f"'{name}' was given up after {self.failures.get(name, 0)} failures")
        self._change(failure.gives, failure.ends, set(), failure.gives)

    def taken_back(self, name: str) -> None:
        """A report was a mistake: no look comes back by a slip of the tongue."""
        deed = self.deeds[name]
        if deed.question:
            self.facts -= {name, f"{name} answered"}
            return
        if not (deed.gives <= self.facts and not deed.ends & self.facts):
            raise Disagreement(f"'{name}' was taken back and did not stand")
        self._change(deed.ends - self.looks.keys(), deed.gives, deed.gives | deed.ends, deed.ends)

    def corrected(self, name: str, value: bool) -> None:
        """The record was wrong about one fact."""
        if value and name in self.looks:
            raise Disagreement(f"'{name}' became true without anybody looking")
        self._change({name} if value else set(), set() if value else {name}, set(), {name})

    def danger_over(self, name: str) -> None:
        """The immediate action after a broken rule was taken."""
        rule = next(one for one in self.rules if one.name == name)
        self._change(rule.gives, rule.ends, set(), rule.gives)
