"""Whole stays: what is misheard is counted where it does something, and only there."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from math import inf
from pathlib import Path

import pytest
from click.testing import CliRunner

from benchmarks import jobs, stays
from benchmarks.simulated_stay import Kept, Way, stay
from benchmarks.stays import Stays, simulate, simulate_at_once, summed_up
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.cli import main
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Rejection, normal
from handsfree.language.loader import load_language
from handsfree.storage.paths import checklists_folder, find_rig
from tests.depth import cases

RIG = load_rig(find_rig("small-single"))
LISTS = tuple(load_checklist(checklists_folder() / f"{name}.yaml", rig=RIG, library=checklists_folder())
              for name in ("arrive", "depart"))


class Forced:
    """Hears what it is forced to: the words themselves, or what `mistake` makes of them."""

    recognised = 0

    def __init__(self, mistake: Callable[[str, Grammar], Heard | None]) -> None:
        self._mistake = mistake

    def hear(self, words: str, way: Way, grammar: Grammar) -> Heard:
        said = normal(words)
        if not grammar.allows(said):
            return Rejection("unclear", 0, 1, "", 0.0)
        return self._mistake(said, grammar) or Hypothesis(said, 1.0, 0, 1)


def kept(mistake: Callable[[str, Grammar], Heard | None], stays: int = 3) -> Kept:
    found, chance = Kept(), random.Random(4)
    for _ in range(stays):
        stay(LISTS, RIG, load_language("en"), Forced(mistake), Way("", "", 10), chance, found)  # type: ignore[arg-type]
    return found


def test_ears_without_fault_make_no_mistake() -> None:
    """Every stay is closed, nothing is done wrongly, no turn was in vain."""
    found = kept(lambda said, grammar: None)
    assert found.closed == 6 and found.stays == 3
    assert not found.wrong and not found.mistakes
    assert found.keyed == found.asked == found.harmless == 0
    assert found.turns["hold"] > 30 and found.turns["elsewhere"] > 100
    assert found.extra / found.steps < 0.02, found.extra  # what is said where it does not fit


def test_a_command_taken_for_another_is_counted() -> None:
    """Forced: one 'done' in five is surely heard as 'skip this'."""
    chance = random.Random(1)

    def mistake(said: str, grammar: Grammar) -> Heard | None:
        if said == "done" and chance.random() < 0.2:
            return Hypothesis("skip this", 0.95, 0, 1)
        return None

    found = kept(mistake)
    assert found.wrong["elsewhere"] > 5 and not found.wrong["hold"]
    assert all(said == "done" and heard == "skip this"
               for _, _, said, heard in found.mistakes)
    assert found.extra >= found.wrong["elsewhere"]


def test_two_errors_that_coincide_at_a_hold_point_are_counted() -> None:
    """Forced: questions are surely heard as the response, and a denial as the confirmation."""
    responses = {normal(step.respond) for one in LISTS for step in one.steps.values()} - {""}

    def mistake(said: str, grammar: Grammar) -> Heard | None:
        due = responses & grammar.phrases
        if said in ("say again", "help me", "what is left", "tell me more") and due:
            return Hypothesis(due.pop(), 1, 0, 1)
        return Hypothesis("that is right", 1, 0, 1) if said == "no change it" else None

    found = kept(mistake, stays=12)  # two errors at one hold point are rare
    assert found.wrong["hold"] and any(where == "hold" for where, *_ in found.mistakes)
    one = kept(lambda said, grammar: None if said == "no change it" else mistake(said, grammar))
    assert not one.wrong["hold"]  # one error alone changes nothing


def test_doubt_costs_turns_and_does_nothing() -> None:
    """Forced: everything but confirmations is heard in doubt at first."""
    heard: dict[str, int] = {}

    def mistake(said: str, grammar: Grammar) -> Heard | None:
        heard[said] = heard.get(said, 0) + 1
        if said == "done" and heard[said] % 2:
            return Hypothesis(said, 0.6, 0, 1)
        return None

    found = kept(mistake)
    assert found.asked > 20 and not found.wrong
    assert found.extra >= 2 * found.asked * 0.9  # the turn itself, and the answer to the question


@pytest.mark.long
def test_real_ears(monkeypatch: pytest.MonkeyPatch) -> None:
    """Real voice, noise and recogniser: it closes, and the pool is smaller than the turns."""
    monkeypatch.setattr(stays, "SNRS", (10,))
    monkeypatch.setattr(stays, "RIGS", ("small-single",))
    count = cases(1, 2)
    found = simulate(count, voices=("espeak m3",))
    ten = found.kept[10]
    assert ten.stays == count and ten.closed == 2 * count
    assert 30 < found.recognised < sum(ten.turns.values())
    assert set(summed_up(ten)) >= {"wrong state changes at hold points", "extra turns a step"}


def test_what_was_counted_apart_is_added_up() -> None:
    one, two = (kept(lambda said, grammar: None, stays) for stays in (1, 2))
    one.add(two)
    assert one.stays == 3 and one.closed == 6 and one.turns["hold"] > two.turns["hold"] > 0


def test_processes_share_the_voices_and_the_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """Forced: the processes are threads, and a stay only tells which ways it was given."""
    given: list[tuple[int, tuple[int, ...]]] = []

    def stand_in(share: int, *, engine: str, seed: int, voices: tuple[str, ...], minutes: float,
                 ways: range, by_heart: bool) -> Stays:
        assert voices == ("hibari",) and by_heart
        given.append((share, tuple(ways)))
        return Stays({snr: Kept(stays=share) for snr in stays.SNRS}, 7, 1.0)

    monkeypatch.setattr(jobs, "ProcessPoolExecutor", lambda jobs, _: ThreadPoolExecutor(jobs))
    monkeypatch.setattr(stays, "simulate", stand_in)
    found = simulate_at_once(11, 5, "own", 1, ("hibari",), inf, lambda done: None, by_heart=True)
    assert found.recognised == 35 and {k.stays for k in found.kept.values()} == {11}
    assert sorted(way for _, ways in given for way in ways) == list(range(12))
    assert sorted(share for share, _ in given) == [2, 2, 2, 2, 3]


def test_the_command_writes_what_it_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = Kept(stays=1, prompts=1000)
    found.wrong["elsewhere"] = 2
    monkeypatch.setattr(stays, "simulate",
                        lambda count, **_: stays.Stays({10: found, 5: Kept()}, 7, 0.1))
    out = tmp_path / "stays.json"
    done = CliRunner().invoke(main, ["bench", "stays", "--stays", "1", "--json", str(out)])
    assert done.exit_code == 0, done.output
    written = json.loads(out.read_text())
    assert written["by ratio"]["10 dB"]["wrong in 1000 prompts"] == 2
    assert written["utterances recognised"] == 7
    done = CliRunner().invoke(main, ["bench", "stays", "--json", str(tmp_path / "no" / "x.json")])
    assert done.exit_code == 2 and "--json" in done.output
