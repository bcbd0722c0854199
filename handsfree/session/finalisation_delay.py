"""How long a pause an utterance needs before it is acted on, by what it would do.

Pure.  May import the engine, the language, `hearing.early_finalisation`, `expecting` and `understanding`.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from handsfree.checklist.model import Checklist
from handsfree.engine.state import Answer, Confirm, Event, Mode, Read, Respond, State
from handsfree.hearing.early_finalisation import FIRM, QUICK
from handsfree.language.matcher import Matcher
from handsfree.session.expecting import expected
from handsfree.session.understanding import Meaning, meaning_of


def finalisation_delay(text: str, checklist: Checklist, state: State, matcher: Matcher) -> float:
    """Seconds of silence after which `text`, surely heard, may be acted on; inf for all of it.

    The whole silence: what may go on to something else ("done" where a step can be called by "done
    with the ramps"; a number, unless it is a value that the step would take).  `FIRM`: what
    changes the record without being read back, a hold point's confirmation first of all.  `QUICK`:
    the rest.
    """
    here = expected(checklist, state)

    def means(words: str) -> Meaning:
        meant = meaning_of(matcher.interpret(words, here), checklist, state)
        return replace(meant, then=None)  # whoever goes on in the same breath makes no pause

    meaning = means(text)
    longer = [phrase for phrase in matcher.phrases(here) if phrase.startswith(f"{text} ")]
    if meaning.verdict == "rejected" or any(means(phrase) != meaning for phrase in longer):
        return inf
    if meaning.readings:
        # A value outside the limits may be the beginning of one within: "one hundred (and ten)".
        return FIRM if meaning.event in (None, Read("within")) else inf
    return FIRM if _settles(meaning.event, state) else QUICK


def _settles(event: Event | None, state: State) -> bool:
    held = state.mode is Mode.CONFIRM and isinstance(state.pending, (Respond, Read))
    return isinstance(event, Answer) or held and isinstance(event, Confirm)
