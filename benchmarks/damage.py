"""`python -m benchmarks damage`: journals are damaged at random; each must be named, none believed.

May import the session room, the checklist loader and language.  A stay is walked in words, on a
real record; each damage is done to a copy of it.  *Named* means that reading the record tells which
file is wrong (or the one after a file that is gone).  *Believed* means that a checklist could begin
without a question although the newest journal, on which everything stands, is not as it was
written, or what is on record is not what the stay had left.
"""

from __future__ import annotations

import json
import random
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import click

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.opening import start_new
from handsfree.session.state_questions import open_facts
from handsfree.session.state_questions_file import Core, load_state_questions
from handsfree.storage import journal
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.storage.record import latest, past_faults, session_paths
from handsfree.testing import talk

STAY = ("arrive", "evening", "depart", "arrive")
"""Checklists whose record is damaged; the last is left unfinished, after many changes."""

Damage = Callable[[Path, random.Random], str]
"""Damages one of a record's journals; the name of the file that it is about."""


@dataclass
class Found:
    """What a series of damages came to."""

    done: Counter[str] = field(default_factory=Counter)
    asked: int = 0
    """Where everything would be asked anew."""
    unnamed: list[str] = field(default_factory=list)
    believed: list[str] = field(default_factory=list)


# --- damages ------------------------------------------------------------------------------------

def _some(folder: Path, chance: random.Random) -> Path:
    """One of the journals, the newest as often as all others together."""
    paths = session_paths(folder)
    return paths[-1] if chance.random() < 0.5 else chance.choice(paths)


def _lines(path: Path) -> list[bytes]:
    return path.read_bytes().splitlines(keepends=True)


def _write(path: Path, lines: list[bytes]) -> str:
    path.write_bytes(b"".join(lines))
    return path.name


def bit(folder: Path, chance: random.Random) -> str:
    """One bit flipped."""
    path = _some(folder, chance)
    raw = bytearray(path.read_bytes())
    raw[chance.randrange(len(raw))] ^= 1 << chance.randrange(8)
    path.write_bytes(raw)
    return path.name


def byte(folder: Path, chance: random.Random) -> str:
    """One byte changed, lost or put in."""
    path = _some(folder, chance)
    raw = bytearray(path.read_bytes())
    at, how = chance.randrange(len(raw)), chance.choice("clp")
    if how == "c":
        raw[at] = (raw[at] + chance.randrange(1, 256)) % 256
    elif how == "l":
        del raw[at]
    else:
        raw.insert(at, chance.randrange(256))
    path.write_bytes(raw)
    return path.name


def line_removed(folder: Path, chance: random.Random) -> str:
    """One line taken out."""
    path = _some(folder, chance)
    lines = _lines(path)
    del lines[chance.randrange(len(lines))]
    return _write(path, lines)


def line_doubled(folder: Path, chance: random.Random) -> str:
    """One line a second time, anywhere after it."""
    path = _some(folder, chance)
    lines = _lines(path)
    at = chance.randrange(len(lines))
    lines.insert(chance.randrange(at + 1, len(lines) + 1), lines[at])
    return _write(path, lines)


def line_foreign(folder: Path, chance: random.Random) -> str:
    """A line of another journal of the same rig, in the place of one or beside it."""
    path = _some(folder, chance)
    other = chance.choice([one for one in session_paths(folder) if one != path])
    lines = _lines(path)
    at = chance.randrange(len(lines))
    lines[at:at + chance.randrange(2)] = [chance.choice(_lines(other))]
    return _write(path, lines)


def line_forged(folder: Path, chance: random.Random) -> str:
    """One line with a right sum of its own, but other contents."""
    path = _some(folder, chance)
    lines = _lines(path)
    at = chance.randrange(len(lines))
    data = json.loads(lines[at])
    data.pop("sum")
    body = json.dumps({**data, "t": data["t"] + 1}).encode()[:-1]
    lines[at] = body + b', "sum": "%s"}\n' % journal.link(body).encode()
    return _write(path, lines)


def lines_swapped(folder: Path, chance: random.Random) -> str:
    """Two lines in each other's place."""
    path = _some(folder, chance)
    lines = _lines(path)
    one, two = chance.sample(range(len(lines)), 2)
    lines[one], lines[two] = lines[two], lines[one]
    return _write(path, lines)


def end_lost(folder: Path, chance: random.Random) -> str:
    """Any number of lines at the end gone."""
    path = _some(folder, chance)
    lines = _lines(path)
    return _write(path, lines[:chance.randrange(len(lines))])


def file_gone(folder: Path, chance: random.Random) -> str:
    """A whole journal gone."""
    path = _some(folder, chance)
    path.unlink()
    return path.name


def file_doubled(folder: Path, chance: random.Random) -> str:
    """A journal once more, as the newest."""
    path, newest = _some(folder, chance), session_paths(folder)[-1]
    number = int(newest.name.split("-")[0]) + 1
    copy = path.with_name(f"{number:06d}-{path.name.split('-', 1)[1]}")
    shutil.copyfile(path, copy)
    return copy.name


def file_foreign(folder: Path, chance: random.Random) -> str:
    """Another rig's journal in the place of one, or as the newest."""
    theirs = chance.choice(session_paths(folder.parent / "theirs"))
    path = folder / "sessions" / theirs.name
    if chance.random() < 0.5:
        number = len(session_paths(folder)) + 1
        path = path.with_name(f"{number:06d}-{theirs.name.split('-', 1)[1]}")
    shutil.copyfile(theirs, path)
    return path.name


def files_swapped(folder: Path, chance: random.Random) -> str:
    """Two journals under each other's name."""
    one, two = chance.sample(session_paths(folder), 2)
    first, second = one.read_bytes(), two.read_bytes()
    one.write_bytes(second)
    two.write_bytes(first)
    return max(one.name, two.name)


DAMAGES: dict[str, Damage] = {
    "bit": bit, "byte": byte, "line removed": line_removed, "line doubled": line_doubled,
    "line of another journal": line_foreign, "line forged": line_forged,
    "lines swapped": lines_swapped, "end lost": end_lost, "file gone": file_gone,
    "file doubled": file_doubled, "file of another rig": file_foreign,
    "files swapped": files_swapped}


# --- the series ---------------------------------------------------------------------------------

def damaged(
    folder: Path, *, times: int, seed: int = 1, rig: str = "small-single",
    told: Callable[[Found], None] = lambda found: None,
) -> Found:
    """Damage copies of the record of one stay so often, each kind in its turn.

    Args:
        folder: an empty one.
    """
    trailer = load_rig(find_rig(rig))
    core, checklists = load_state_questions(checklists_folder()), _stay(trailer)
    truth = _walk(folder / "whole", trailer, checklists)
    _walk(folder / "theirs", Rig("A lent trailer", trailer.has), checklists)
    found, chance = Found(), random.Random(seed)
    for turn in range(times):
        kind = list(DAMAGES)[turn % len(DAMAGES)]
        copy = folder / "copy"
        shutil.copytree(folder / "whole", copy)
        before = {path.name: path.read_bytes() for path in session_paths(copy)}
        name = DAMAGES[kind](copy, chance)
        if before == {path.name: path.read_bytes() for path in session_paths(copy)}:
            shutil.rmtree(copy)  # two lines alike, or a byte for itself: no damage
            continue
        found.done[kind] += 1
        _judge(core, checklists[-1], trailer, copy, truth, f"{kind} in {name} (turn {turn})", name,
               found)
        shutil.rmtree(copy)
        told(found)
    return found


def _stay(rig: Rig) -> list[Checklist]:
    loaded = {name: load_checklist(checklists_folder() / f"{name}.yaml", rig=rig,
                                   library=checklists_folder()) for name in set(STAY)}
    return [loaded[name] for name in STAY]


def _walk(folder: Path, rig: Rig, checklists: list[Checklist]) -> frozenset[str]:
    """The stay, with power and water; what is so after it."""
    english = load_language("en")
    for checklist in checklists:
        script = Script(answers={"site power": True, "site water": True},
                        at={checklist.order[-1]: ("finish for now",)}
                        if checklist is checklists[-1] else {})
        started = start_new(checklist, rig, folder, {"rehearsal": True})
        talk(checklist, english, script, started=started)
        started.log.close()
    last = latest(folder, rig.name)
    assert last and not last.faults and not past_faults(folder)
    return last.facts


def _judge(
    core: Core, checklist: Checklist, rig: Rig, folder: Path, truth: frozenset[str], what: str,
    name: str, found: Found,
) -> None:
    last = latest(folder, rig.name)
    faults = [*past_faults(folder), *(last.faults if last else ())]
    number = int(name.split("-")[0])
    if not any(int(fault.file.split("-")[0]) in (number, number + 1) for fault in faults):
        found.unnamed.append(f"{what}: {[str(fault) for fault in faults]}")
    open_ = open_facts(core, checklist, rig, last)
    everything = open_facts(core, checklist, rig, None)
    newest = name == max(session_paths(folder)[-1].name, name)
    if open_ == everything:
        found.asked += 1
    elif newest or last is None or last.facts != truth or open_:
        found.believed.append(what)


@click.command()
@click.option("--times", type=click.IntRange(min=1), default=1000, show_default=True,
              help="How many copies of the record are damaged.")
@click.option("--seed", type=int, default=1, show_default=True, help="Another series.")
@click.option("--rig", default="small-single", show_default=True, help="Rig of the record.")
def damage(times: int, seed: int, rig: str) -> None:
    """Damage the record of a stay at random, and look whether it is named and not believed.

    Bits, bytes, lines, files and their order; half of the time in the newest journal, on which the
    record stands.  Exit status 1 when one is not named, or is believed.
    """
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="handsfree-damage-") as folder:
        found = damaged(
            Path(folder), times=times, seed=seed, rig=rig,
            told=lambda now: click.echo(f"\r{now.done.total()}", nl=False, err=True))
    click.echo("", err=True)
    for kind in DAMAGES:
        click.echo(f"{found.done[kind]:6d}  {kind}")
    click.echo(f"{found.done.total():6d}  damages in all")
    click.echo(f"{found.asked:6d}  after which everything is asked anew; what counts now was not"
               " touched by the others")
    click.echo(f"{len(found.unnamed):6d}  not named")
    click.echo(f"{len(found.believed):6d}  believed")
    click.echo(f"{time.monotonic() - began:6.0f}  seconds (seed {seed})")
    for line in (*found.unnamed[:20], *found.believed[:20]):
        click.echo(line)
    if found.unnamed or found.believed:
        raise SystemExit(1)
