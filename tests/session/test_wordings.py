"""How people say it: sentences held out from those that taught the program, at real moments.

The figures are counted over `wordings-held-out.txt`; its writer is the same as that of the taught
ones, so they are an upper bound for strangers.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from tests.session.wordings import Sentence, outcome, sentences

HARMLESS = frozenset({"nothing", "wanted"})


def _tally(said: Iterable[Sentence], code: str = "en") -> tuple[int, list[str], list[str]]:
    """How many, those that came to something else, and those that were not understood or asked
    about."""
    count, wrong, missed = 0, [], []
    for one in said:
        count += 1
        came = outcome(one.words, one.moment, code)
        meant = one.meaning.split("|")
        if came in meant or "nothing" in meant and came == "wanted":
            continue
        harmless = came in HARMLESS or came.startswith("ask ") and "nothing" not in meant
        (missed if harmless else wrong).append(f"{one} -- came to {came}")
    return count, wrong, missed


def test_the_held_out_sentences_taught_nothing() -> None:
    taught = {(one.moment, one.words) for one in sentences("taught")}
    held_out = {(one.moment, one.words) for one in sentences("held-out")}
    assert not taught & held_out and len(held_out) > 600


@pytest.mark.parametrize("name", ["taught", "held-out"])
def test_intents_are_right_and_hardly_ever_wrong(name: str) -> None:
    count, wrong, missed = _tally(sentences(name))
    told = "\n".join([*wrong, "", *missed])
    assert len(wrong) <= 0.005 * count, f"{len(wrong)} of {count} wrong\n{told}"
    assert len(wrong) + len(missed) <= 0.05 * count, f"{len(missed)} of {count} missed\n{told}"


@pytest.mark.parametrize("code", ["de", "ko"])
def test_other_languages_keep_in_step(code: str) -> None:
    count, wrong, missed = _tally(sentences(code), code)
    assert count >= 20 and not wrong and not missed, [*wrong, *missed]


@pytest.mark.parametrize("moment", ["hold chocks set", "hold chocks hold",
                                    "hold both chains unhooked", "alarm wheels are chocked tight"])
def test_a_hold_point_is_done_by_its_own_response_only(moment: str) -> None:
    """Everything that was written down anywhere, said here: none counts but its own."""
    own = {one.words for name in ("taught", "held-out") for one in sentences(name)
           if one.moment == moment and one.meaning == "respond"}
    said = {one.words for name in ("taught", "held-out") for one in sentences(name)} - own
    told = [words for words in sorted(said)
            if outcome(words, moment) in ("respond", "done", "confirm")]
    assert not told, told
