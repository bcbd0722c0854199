"""On real audio: asked where it is, a technician says a place that is known; one yes answers all."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.engine.state import Answer
from handsfree.language.loader import load_language
from handsfree.rehearsal.script import Script
from handsfree.session.at_a_place import AtAPlace
from handsfree.session.opening import start_new
from handsfree.storage import journal, lines
from handsfree.storage.paths import checklists_folder
from handsfree.storage.places import Memory
from handsfree.storage.record import rig_folder, session_paths
from handsfree.testing import talk

SCRIPT = """\
title: Back at the north meadow, in a light wind.
checklist: arrive
rig: small-single
place: north meadow
asked where: yes
noise: wind
snr: 25
answers: {site power: no, site water: no}
readings: {side-level: [zero point five degrees]}
at: {chock: [finish for now]}
"""

BEFORE = Script(
    answers={"site power": True, "site water": True, "far side": True},
    readings={"supply-amps": ("twenty amps",), "second-amps": ("twenty amps",),
              "extension-feet": ("ten feet",),
              "outlet-volts": ("one hundred two volts", "one hundred eighteen volts")})


def been_there(record: Path, places: tuple[str, ...]) -> None:
    """An arrival at each of these places on a rehearsal's record, the rig on the road each time."""
    rig = load_rig(checklists_folder() / "rigs" / "small-single.yaml")
    arrive = load_checklist(checklists_folder() / "arrive.yaml", rig=rig, library=checklists_folder())
    road = arrive.start_facts | rig.has
    for place in (*places, ""):
        started = start_new(arrive, rig, rig_folder(record, rig.name), {})
        about = {"place": place, "rig": rig.name, "traits": rig.has, "rehearsal": True,
                 "known": frozenset(arrive.facts), "settled": frozenset(arrive.facts)}
        started = replace(started, begin=lambda conversation, t, to, about=about: conversation.begin(
            road, t, **about))
        script = BEFORE if place else Script(at={"look-round": ("finish for now",)})
        talk(arrive, load_language("en"), script, started=started,
             talking=partial(AtAPlace, Memory("")))
        started.log.close()


def test_it_says_where_it_is_and_agrees_to_all_of_it(tmp_path: Path) -> None:
    record = tmp_path / "record"
    been_there(record, ("the gravel pit", "north meadow"))
    (tmp_path / "back.yaml").write_text(SCRIPT, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "rehearse", "--fast", "--script", "back.yaml",
         "--record", str(record), "--out", "out"], capture_output=True, text=True, cwd=tmp_path,
        timeout=280, env={**os.environ, "HANDSFREE_DATA": str(tmp_path / "data")})
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr
    asked = (tmp_path / "out" / "where" / "transcript.txt").read_text(encoding="utf-8")
    assert "Back at north meadow?" in asked and "North meadow. Noted." in asked
    assert "Where are you? Say: north meadow, the gravel pit." in asked
    told = (tmp_path / "out" / "transcript.txt").read_text(encoding="utf-8")
    assert ("Last time at north meadow: power, twenty amps, water, tap and pedestal out of reach and"
            " no adapter.") in told
    assert "An outlet failed its test: voltage." in told
    assert "Noted. Same as last time." in told and "Is there a power pedestal" not in told
    last = session_paths(rig_folder(record, "Small single-axle trailer"))[-1]
    read = journal.read(last).lines
    assert next(line for line in read if isinstance(line, lines.Begun)).place == "north meadow"
    assert [(line.step, line.event) for line in read
            if isinstance(line, lines.Event) and isinstance(line.event, Answer)] == [
        ("site power", Answer(True)), ("site water", Answer(True)), ("far side", Answer(True))]
