"""What may be said at a moment, in all the words of the language's `sayings`, as graphs of words.

Along them somebody's sentence is followed by ear; what it means is for `Matcher.interpret` to say, as if
it had been typed.  Ends are labelled by what was said.  Pure but for the language's own data.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from fractions import Fraction
from functools import lru_cache

from handsfree.language.matcher import REMINDER_MINUTES
from handsfree.language.model import Language
from handsfree.language.natural_wordings import Sayings, sayings_of
from handsfree.language.readings import Reading, say_reading
from handsfree.language.word_graphs import WordGraph, graph_of, shortened
from handsfree.language.words import normalise

BEFORE, AFTER = 2, 2
"""So many fillers may stand before and after."""

HESITATIONS = "(?:um |uh |er )"
"""Those that are sounds; the others are words with which any noise could be explained."""

IS = frozenset({"it's", "that's", "what's", "where's", "there's", "how's", "he's", "she's", "who's",
                "here's", "everything's", "one's"})
"""What "is" is shortened in by ear; behind other words it is left to the ear's tolerance."""

Pairs = frozenset[tuple[str, str]]


@lru_cache(maxsize=2)
def command_graph(language: Language, between_lists: bool = False) -> WordGraph:
    """Of every meaning that a sentence without a number or a name can have: one end each."""
    sayings = sayings_of(language)
    graph = WordGraph()
    before, after = _edges(language)
    hub = graph.optional(before, graph.start, BEFORE)
    meanings = sayings.standing_by if between_lists else sayings.commands
    for name, expression in sorted(meanings.items()):
        end = graph.add(_spoken(expression, sayings), hub)
        graph.ends[graph.optional(after, end, AFTER)] = name
    return graph


@lru_cache(maxsize=64)
def named_graph(language: Language, names: frozenset[str], between_lists: bool = False) -> WordGraph:
    """Orders with a name in them, or with a number of minutes."""
    sayings = sayings_of(language)
    graph = WordGraph()
    minutes = [normalise(say_reading(Reading(Fraction(n), "minutes"), language)) for n in REMINDER_MINUTES]
    for at, (kind, before, after) in enumerate(sayings.lists if between_lists else sayings.around):
        some = minutes if kind == "remind" else sorted(names)
        if not some:
            continue
        begin = graph.add(_spoken(before, sayings), graph.start)
        end = graph.node()
        graph.jumps += [(graph.say(begin, name.split()), end) for name in some]
        graph.ends[graph.add(_spoken(after, sayings), end)] = f"{kind} {at}"
    return graph


def reading_graph(
    language: Language, starts: Collection[str], follows: Pairs, ends: Collection[str],
    units: Collection[str], unit: str
) -> WordGraph:
    """A reading with words around it, and the same asked about or denied, so that this is not taken for
    it; starts, follows, ends: how number words are strung together.

    units: what may stand behind the number.  unit: the id of the one that is asked for.
    """
    sayings = sayings_of(language)
    graph = WordGraph()
    around = _hesitating(sayings.reading_before, sayings), _spoken(sayings.reading_after, sayings)
    for label in ("reading", "asked"):
        hub = graph.node()
        if label == "reading":
            graph.jumps.append((graph.start, hub))
            if unit in sayings.zero:
                graph.ends[graph.add(_spoken(sayings.zero[unit], sayings), hub)] = "nought"
            graph.jumps.append((graph.add(around[0], graph.start), hub))
        else:
            once = graph.node()
            graph.arcs += [(begin, word, end) for word in sorted(sayings.closed)
                           for begin, end in ((graph.start, once), (once, hub))]
            graph.jumps.append((once, hub))
        behind = _number(graph, hub, starts, follows, ends, units)
        graph.ends[graph.optional(around[1], behind, 1)] = label
    return graph


def _number(
    graph: WordGraph, hub: int, starts: Collection[str], follows: Pairs, ends: Collection[str],
    units: Collection[str]
) -> int:
    """A number behind a node, with a unit or without; returns the node behind it."""
    places = {word: graph.node() for word in sorted({*starts, *ends, *(w for pair in follows for w in pair)})}
    graph.arcs += [(hub, word, places[word]) for word in sorted(starts)]
    graph.arcs += [(places[one], two, places[two]) for one, two in sorted(follows)]
    number, behind = graph.node(), graph.node()
    graph.jumps += [(places[word], number) for word in sorted(ends)]
    graph.jumps.append((number, behind))
    for form in sorted(units):
        graph.jumps.append((graph.say(number, form.split()), behind))
    return behind


@lru_cache(maxsize=64)
def answer_graph(language: Language, answers: frozenset[str]) -> WordGraph:
    """The answers of a hold point with little words around and between theirs, and what denies or
    asks about them."""
    sayings = sayings_of(language)
    graph = WordGraph()
    before = _hesitating(sayings.response_before, sayings)
    after = _spoken(sayings.response_after, sayings)
    hub = graph.node()
    graph.jumps.append((graph.start, hub))
    graph.jumps.append((graph.add(before, graph.start), hub))
    little = sayings.drop | sayings.be
    for answer in sorted(answers):
        own = [word for word in sayings.plain(answer) if word not in sayings.be] or answer.split()
        for label, loose in ((answer, little), (f"not {answer}", little | sayings.closed)):
            end = _answered(graph, hub, own, loose, sayings.be if label == answer else frozenset())
            out = graph.node()
            graph.jumps += [(end, out), (graph.add(after, end), out)]
            if label == answer and len(own) > 1 and own[-1] in sayings.participles:
                me = graph.say(graph.add(_spoken(sayings.me, sayings), hub), own[-1:])
                end = _answered(graph, me, own[:-1], sayings.drop, frozenset())
                graph.jumps += [(end, out), (graph.add(after, end), out)]
            graph.ends[out] = label
    return graph


def _answered(
    graph: WordGraph, begin: int, own: Sequence[str], loose: frozenset[str], late: frozenset[str]
) -> int:
    """An answer's words in their order, with up to two loose ones before each; late ones only behind the first."""
    for at, word in enumerate(own):
        there = graph.node()
        graph.jumps.append((begin, there))
        some = sorted(loose - late if at == 0 else loose)
        once = graph.node()
        graph.arcs += [(begin, little, once) for little in some]
        graph.arcs += [(once, little, there) for little in some]
        graph.jumps.append((once, there))
        begin = graph.say(there, [word])
    return begin


@lru_cache(maxsize=4)
def _edges(language: Language) -> tuple[WordGraph, WordGraph]:
    sayings = sayings_of(language)
    before, after = (_spoken(f"(?:{side}|{HESITATIONS})", sayings) for side in sayings.edges)
    return before, after


def _hesitating(expression: str, sayings: Sayings) -> WordGraph:
    return _spoken(f"{HESITATIONS}?{expression}", sayings)


def _spoken(expression: str, sayings: Sayings) -> WordGraph:
    graph = graph_of(expression)
    shortened(graph, sayings.short, sayings.endings, IS)
    return graph
