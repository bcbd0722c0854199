"""A damaged journal: its lines named, the file left as it is, nothing in it believed."""

import json
import random
from pathlib import Path

import pytest

from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig
from handsfree.engine.state import Mode, Resume, Status
from handsfree.errors import InputError
from handsfree.hearing.types import Hypothesis
from handsfree.language.model import Language
from handsfree.rehearsal.operator import Operator
from handsfree.rehearsal.script import Script
from handsfree.session.conversation import Conversation
from handsfree.session.opening import Started, go_on, start_new
from handsfree.storage import journal
from handsfree.storage.journal_recovery import rebuilt
from handsfree.storage.lines import Changed, Unknown, from_plain
from handsfree.storage.record import latest, session_paths
from handsfree.storage.seal import Seal, seal_of
from handsfree.testing import talk

RIG = Rig("trailer")
SCRIPTS = [
    Script(),
    Script(at={"chock": ("go to pull away", "skip"), "mat": ("skip", "skip")}),
    Script(readings={"volts": ("ninety volts", "ninety one", "one eighteen")}),
    Script(readings={"volts": ("ninety volts",)}, answers={"water here": True}),
    Script(at={"volts": ("take back chocks",), "mat": ("take it back", "hold on")}),
]


def go(started: Started, checklist: Checklist, language: Language, script: Script,
       turns: int = 1000) -> tuple[Conversation, list[str]]:
    """Talk on, at most so many turns; the conversation and the keys of its prompts."""
    conversation = Conversation(checklist, language, started.log)
    operator = Operator(script, checklist, language)
    prompts = started.begin(conversation, 0.0, started.log)
    keys = []
    for _ in range(turns):
        for prompt in prompts:
            keys.append(prompt.key)
            operator.hear(prompt)
        words = "" if conversation.over else operator.answer()
        if not words:
            break
        prompts = conversation.hear(Hypothesis(words, 1.0, 0.0, 0.0), 1.0)
    started.log.close()
    return conversation, keys


@pytest.mark.parametrize("script", SCRIPTS)
@pytest.mark.parametrize("length", [3, 6, 9, 12])
def test_without_damage_the_lines_tell_what_a_replay_tells(
    small: Checklist, english: Language, script: Script, length: int
) -> None:
    told = talk(small, english, script, turns=length)
    facts = told.log.lines[0].record
    state = rebuilt(small, facts, told.log.lines)
    there = told.conversation.state
    assert state.facts == there.facts and state.statuses == there.statuses
    assert state.tries == there.tries and state.reports == there.reports


def test_any_one_line_may_be_lost(tmp_path: Path, small: Checklist, english: Language) -> None:
    folder = tmp_path / "rig"
    go(start_new(small, RIG, folder, {}), small, english,
       Script(readings={"volts": ("ninety volts",)}, answers={"water here": True}), turns=8)
    path = latest(folder).path  # type: ignore[union-attr]
    whole = path.read_bytes()
    lines = whole.splitlines(keepends=True)
    facts = latest(folder).facts  # type: ignore[union-attr]
    chance = random.Random(1)
    for number in range(1, len(lines) + 1):
        broken = bytearray(lines[number - 1])
        broken[chance.randrange(len(broken) - 1)] ^= 1 << chance.randrange(7)
        if b"\n" in broken[:-1]:
            continue
        path.write_bytes(b"".join([*lines[:number - 1], bytes(broken), *lines[number:]]))
        damaged = path.read_bytes()
        found = latest(folder)
        assert found and found.damaged == (number,) and found.ended and not found.settled
        assert str(found.faults[0]) == f"{path.name}, line {number}: cannot be read, or was changed"
        if number > 1:
            lost = {name for line in from_plain(json.loads(lines[number - 1])).led_to()
                    if isinstance(line, Changed) for name in line.on | line.off}
            assert found.facts ^ facts <= lost, "the best guess that there is"
        with pytest.raises(InputError, match=f"line {number}: cannot be read"):
            go_on(small, folder)
        assert path.read_bytes() == damaged, "and stays as it is"
        started = start_new(small, RIG, folder, {})
        _, keys = go(started, small, english, Script(), turns=1)
        assert [key for key in keys if key != "alarm"][0] == "damaged", "only a danger is said before"
        assert "chocked" not in latest(folder).settled, "nobody has said so"  # type: ignore
        started.log.path.unlink()
        seal_of(folder).unlink()
        path.write_bytes(whole)
        journal.Journal(path).close()
        Seal(seal_of(folder)).set(path.stem, len(lines), journal.read(path).links[-1])
    assert not latest(folder).faults  # type: ignore[union-attr]


def test_events_that_this_version_does_not_know_are_not_put_to_the_wrong_step(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    """A journal that is whole, and that a later version has written a part of."""
    folder = tmp_path / "rig"
    started = start_new(small, RIG, folder, {})
    go(started, small, english, Script(), turns=2)
    log = journal.Journal(started.log.path)
    log.write(Unknown("event", {"event": {"type": "Sung"}, "step": "chock", "then": [
        {"what": "reported", "step": "chock", "kind": "report"},
        {"what": "changed", "on": ["chocked"], "off": []}]}), 9.0)
    log.close()
    started = go_on(small, folder)
    conversation = Conversation(small, english, started.log)
    prompts = started.begin(conversation, 0.0, started.log)
    started.log.close()
    assert "chocked" in conversation.state.facts and prompts[0].key == "damaged"
    done = [step for step in small.order
            if conversation.state.statuses[small.index[step]] is Status.DONE]
    assert done == ["water here", "chock"]


def test_a_flipped_bit_in_a_line_that_still_reads_well_is_not_believed(tmp_path: Path) -> None:
    path = tmp_path / "a.jsonl"
    log = journal.Journal(path)
    log.write(Changed(frozenset({"chocked"}), frozenset()), 1.0)
    log.write(Changed(frozenset({"hitched"}), frozenset()), 2.0)
    log.close()
    raw = path.read_bytes().replace(b"chocked", b"chocker")
    assert json.loads(raw.splitlines()[0])["on"] == ["chocker"]
    path.write_bytes(raw)
    assert journal.read(path).damaged == (1,)


def test_without_its_first_line_a_session_stands_on_the_one_before(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = tmp_path / "rig"
    go(start_new(small, RIG, folder, {}), small, english, Script(answers={"water here": True}))
    before = latest(folder)
    assert before and "chocked" in before.facts
    go(start_new(small, RIG, folder, {}), small, english, Script(), turns=4)
    path = session_paths(folder)[-1]
    path.write_bytes(b"\0\0\0" + path.read_bytes())
    found = latest(folder)
    assert found and found.headless and found.ended and found.damaged == (1,)
    assert "chocked" in found.facts and found.known >= before.known and not found.settled
    _, keys = go(start_new(small, RIG, folder, {}), small, english, Script(), turns=1)
    assert keys[0] == "damaged"


def test_a_session_that_is_resumed_after_a_torn_line_says_so(
    tmp_path: Path, small: Checklist, english: Language
) -> None:
    folder = tmp_path / "rig"
    go(start_new(small, RIG, folder, {}), small, english, Script(), turns=4)
    path = latest(folder).path  # type: ignore[union-attr]
    path.write_bytes(path.read_bytes() + b'{"n": 99, "at": "2026-0')
    conversation, keys = go(go_on(small, folder), small, english, Script())
    assert keys[0] == "torn" and conversation.state.mode is Mode.CLOSED


def test_rebuilt_holds_where_it_is_until_the_operator_is_back(
    small: Checklist, english: Language
) -> None:
    told = talk(small, english, Script(), turns=4)
    state = rebuilt(small, told.log.lines[0].record, told.log.lines)
    assert state.mode is Mode.PAUSED
    again = Conversation(small, english, told.log)
    again.state = state
    prompts = again.take(Resume(), 0.0)
    assert again.state.at == told.conversation.state.at and prompts[-1].key == "offer"
