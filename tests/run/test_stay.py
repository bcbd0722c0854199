"""A whole stay over processes: departure asks for exactly what arrival put out, days before."""

import json
import subprocess
import sys
from pathlib import Path

CHILD = """
import json, sys
from pathlib import Path
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.language.loader import load_language
from handsfree.storage.paths import find_checklist, find_rig, checklists_folder
from handsfree.storage.record import lock
from handsfree.rehearsal.script import Script
from handsfree.session.opening import start_new
from handsfree.testing import talk

folder, name, script = Path(sys.argv[1]), sys.argv[2], json.loads(sys.argv[3])
rig = load_rig(find_rig("survey-trailer"))
checklist = load_checklist(find_checklist(name), rig=rig, library=checklists_folder())
with lock(folder):
    told = talk(checklist, load_language("en"), Script(**script),
                started=start_new(checklist, rig, folder, {"rehearsal": True}))
print(json.dumps({
    "turns": told.turns, "mode": told.conversation.state.mode.value,
    "out": sorted(fact for fact in told.conversation.state.facts
                  if checklist.facts.get(fact) and checklist.facts[fact].origin.value == "gear"),
    "offered": [prompt.about for prompt in told.prompts if prompt.key == "offer"]}))
"""


def walk(folder: Path, name: str, **script: object) -> dict:
    """One checklist, in a process of its own."""
    done = subprocess.run([sys.executable, "-c", CHILD, str(folder), name, json.dumps(script)],
                          capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


FAR = {"site power": True, "site water": True, "far side": True, "site sewer": False}
NEAR = {**FAR, "far side": False}


def said(walked: dict) -> str:
    return "\n".join(words for who, words in walked["turns"] if who == "program")


def test_departure_will_not_close_until_extension_and_crank_are_back(tmp_path: Path) -> None:
    arrived = walk(tmp_path, "arrive", answers=FAR, at={"crank-in": ["skip this", "skip this"]})
    assert arrived["mode"] == "closed"
    assert {"hose extension out", "crank out"} <= set(arrived["out"])

    # Another process, another day: the operator tries to leave both.
    gear = {"crank-stow": ["skip this", "skip this"], "hose-extension-in": ["skip this"] * 2}
    first = walk(tmp_path, "depart", at=gear)
    assert first["mode"] != "closed"
    assert {"crank-stow", "hose-extension-in"} <= set(first["offered"])
    assert "cannot finish yet" in said(first) or "must wait" in said(first)
    assert {"hose extension out", "crank out"} & set(first["out"])

    second = walk(tmp_path, "depart")
    assert second["mode"] == "closed" and second["out"] == []
    assert {"crank-stow", "hose-extension-in"} <= set(second["offered"])


def test_departure_asks_only_for_what_was_put_out(tmp_path: Path) -> None:
    arrived = walk(tmp_path, "arrive", answers=NEAR)
    assert "hose extension out" not in arrived["out"] and "crank out" not in arrived["out"]
    left = walk(tmp_path, "depart")
    assert left["mode"] == "closed" and left["out"] == []
    assert not {"hose-extension-in", "power-extension-in"} & set(left["offered"])
    assert "hose-off" in left["offered"]


def test_an_arrival_that_was_broken_off_leaves_a_true_record(tmp_path: Path) -> None:
    arrived = walk(tmp_path, "arrive", answers=FAR, at={"joints": ["finish for now"]})
    assert arrived["mode"] == "suspended"
    assert {"cord out", "water hose out", "hose extension out"} <= set(arrived["out"])
    left = walk(tmp_path, "depart")
    assert left["mode"] == "closed" and left["out"] == []
