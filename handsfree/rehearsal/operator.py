"""The rehearsal's operator: listens to the prompts and answers as a script says.

Pure.  May import the script, the checklist model, wording and language.  It hears what is spoken
(the prompts), never the engine's state, and says words, never events.
"""

from __future__ import annotations

from collections import deque
from fractions import Fraction

from handsfree.checklist.model import Checklist, Reading, Step
from handsfree.checklist.sums import SUMS
from handsfree.language.model import Language
from handsfree.language.readings import Reading as Value
from handsfree.language.readings import WrongUnit, parse_reading, say_reading
from handsfree.rehearsal.script import Script
from handsfree.session.at_a_place import HERE_AGAIN
from handsfree.session.wording import Prompt
from handsfree.units import convert

PATIENCE = 5
"""So often the same words are repeated before the operator gives up."""

_SOME_TRAILER_LB = 5000.0
"""What the trailer weighs in a rehearsal whose rig file does not say."""

_THEN_USUAL = frozenset({
    "note", "refused", "does not apply", "needs its response", "detail", "no detail", "why",
    "no why", "remaining", "status", "time", "help", "note kept", "no remedy", "no remedy hold", "does not stand",
    "needs a reading", "nothing to take back", "nothing remaining", "reminder set", "due"})
"""Prompts after which it goes on as if they had not been."""


class Operator:
    """Decides what to say next.  `hear` takes a prompt; `answer` gives the next words, or ''."""

    def __init__(self, script: Script, checklist: Checklist, language: Language) -> None:
        self._script = script
        self._checklist = checklist
        self._commands = language.commands
        self._language = language
        self._scripted = {step: deque(lines) for step, lines in script.at.items()}
        self._readings = {step: deque(lines) for step, lines in script.readings.items()}
        self._then = deque(script.then)
        self._away = dict(script.away)
        self._at = ""
        self._last = ""
        self._meant = ""
        self._redo = ""
        self._repeats = 0
        self._denied = 0  # times in a row that it was asked whether it had said something else
        self._next = ""
        self.works = False
        """The last answer came after work: it is a step's own, not a word to a readback."""
        self.gone = 0.0
        """Seconds that it now stays away; whoever lets them pass sets it back."""
        self.baffled = False
        """It has said the same thing in vain `PATIENCE` times."""

    def hear(self, prompt: Prompt) -> None:
        """Take in one prompt."""
        key = prompt.key
        if key == "offer":
            self._denied = self._denied if prompt.about == self._at else 0
            self._at = prompt.about
            self._next = "usual"
        elif key == HERE_AGAIN:
            self._at = prompt.about
            self._next = self._commands["yes" if self._script.as_last_time else "no"][0]
        elif key == "readback":
            self._next = self._yes(self._meant in prompt.text.lower())
        elif key == "readback together":
            self._next = self._yes(True)
        elif key == "readback reading":
            self._next = self._yes(self._reads_back(prompt.text))
        elif key == "did you say":  # it is asked in the taught wording
            taught = next((wordings[0] for wordings in self._commands.values()
                           if self._meant in wordings), self._meant)
            right = taught in prompt.text.lower()
            self._next, self._denied = self._yes(right), 0 if right else self._denied + 1
        elif key in ("unclear", "say again", "not now", "confirm first", "other unit",
                     "which number", "answer yes or no", "wanted done"):
            self._next = "again"
        elif key == "close with open steps":
            self._at = ""
            self._next = self._then.popleft() if self._then else self._commands["yes"][0]
        elif key == "alarm":
            rule = next(r for r in self._checklist.rules if r.id == prompt.about)
            self._next = rule.respond
        elif key == "paused":
            self._next = self._commands["resume"][0]
            self.gone = 3600.0 * self._away.pop(self._at, 0.0)
        elif key in ("cannot close", "cannot close facts"):
            self._at = ""
            self._next = self._then.popleft() if self._then else self._commands["finish"][0]
        elif key in ("partner needed", "partner to answer", "partner busy"):
            self._next = self._last = ""  # until the other one has come
        elif key == "withdrawn":
            self._redo = self._meant if self._denied <= PATIENCE else ""
            self._next = "usual"
        elif key == "wait":  # whoever rehearses does not wait
            step = self._checklist.steps[prompt.about]
            self._next = f"{step.spoken_names[0]} {self._commands['now'][0]}"
        elif key in _THEN_USUAL or key.startswith("manner."):
            self._next = "usual"

    def answer(self) -> str:
        """What to say, now that the program waits; '' for nothing."""
        chosen, self._next = self._next, ""
        if not chosen:
            return ""
        self.works = chosen == "usual"
        if chosen == "again":
            words = self._in_other_words(self._last) if self._repeats else self._last
        elif chosen == "usual":
            words = self._usual()
        else:
            words = chosen
        self._repeats = self._repeats + 1 if chosen == "again" else 0
        self.baffled = self._repeats > PATIENCE
        self._last = words
        if words not in self._commands["confirm"] + self._commands["deny"]:
            self._meant = words
        return words

    def unanswered(self) -> None:
        """The program stayed silent: say it again."""
        if self._last:
            self._next = "again"

    def _in_other_words(self, words: str) -> str:
        """Another wording of the same command, as people choose who were not understood twice."""
        for wordings in self._commands.values():
            if words in wordings:
                return wordings[(wordings.index(words) + 1) % len(wordings)]
        return words

    def _yes(self, right: bool) -> str:
        return self._commands["confirm" if right else "deny"][0]

    def _reads_back(self, text: str) -> bool:
        step = self._checklist.steps.get(self._at)
        if step is None or step.reading is None:
            return False
        meant = parse_reading(self._meant, self._language, step.reading.unit)
        if isinstance(meant, WrongUnit) or not meant:
            return False
        return say_reading(meant[0], self._language).lower() in text.lower()

    def _usual(self) -> str:
        if self._redo:
            words, self._redo = self._redo, ""
            return words
        if not self._at:
            return ""
        if self._scripted.get(self._at):
            return self._scripted[self._at].popleft()
        if self._at in self._away:
            return self._commands["pause"][0]
        step = self._checklist.steps[self._at]
        if step.question:
            return self._commands["yes" if self._script.answers.get(step.id) else "no"][0]
        if step.reading:
            if self._readings.get(step.id):
                return self._readings[step.id].popleft()
            return self._weighed(step) or self._middle(step.reading)
        return step.respond or self._commands["done"][0]

    def _weighed(self, step: Step) -> str:
        """The trailer's weight and a usual share of it on the hitch; '' for any other reading."""
        numbers = self._checklist.numbers
        gross = numbers.get("loaded weight") or _SOME_TRAILER_LB
        share = sum(numbers.get(f"tongue percent {end}", 0.0) for end in ("low", "high")) / 200
        pounds = gross * share if step.sum == "tongue" else gross
        if step.reading is None or "trailer weight" not in (
                step.reading.called, *(SUMS[step.sum].earlier if step.sum else ())):
            return ""
        unit = step.reading.unit
        said = Value(Fraction(round(convert(Fraction(pounds), "pounds", unit))), unit)
        return say_reading(said, self._language)

    def _middle(self, reading: Reading) -> str:
        """A value between the limits, in words."""
        low = reading.low if reading.low is not None else (reading.high or 0) * 0.8
        high = reading.high if reading.high is not None else (reading.low or 0) * 1.2
        middle = Fraction(round((low + high) / 2)) if high - low >= 1 else Fraction(
            round((low + high) * 5), 10)
        return say_reading(Value(middle, reading.unit), self._language)
