"""`handsfree check` and `python -m benchmarks proof` as the owner meets them."""

from __future__ import annotations

import json
import shutil
from math import factorial
from pathlib import Path

import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.proof import Budget
from handsfree.storage.paths import checklists_folder
from tests.proof.written import STAY, written


def _run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


def test_orders_are_counted_when_asked_for() -> None:
    """Counting proves nothing more, and takes longer than the proof.

    Of a rig with every trait, so a pop-up. No thunder: five steps wait for the question, three of them
    (inside) for the rig to stand as well, and the warning may come anywhere: the question first leaves
    6! / 4 orders, standing first 5!, in each of which the warning has eight places. Thunder: two steps
    in the truck after the question, and two that may come anywhere.
    """
    assert (factorial(6) // 4 + factorial(5)) * 8 + factorial(5) // 3 == 2_440
    assert "Complete orders" not in _run("check", "storm", "--again")[1]
    status, output = _run("check", "storm", "--count")
    assert status == 0 and "    storm: 2,440\n" in output


@pytest.mark.long
def test_a_named_one_is_proved_within_its_stay() -> None:
    """What arrival puts out only departure brings back."""
    assert _run("check", "arrive", "--again")[0] == 0
    status, output = _run("check", "arrive", "--alone")
    assert status == 1 and "gear: " in output


def test_chocks_deleted_from_the_rules_yield_the_roll_away_dialogue(tmp_path: Path) -> None:
    """The rules about the work at the hitch ask for the chocks; roll-away alone does not stop it
    in time."""
    shutil.copytree(checklists_folder() / "shared", tmp_path / "shared")
    files = [shutil.copy(checklists_folder() / f"{name}.yaml", tmp_path) for name in ("arrive", "depart")]
    rules = tmp_path / "shared" / "rules.yaml"
    text = rules.read_text(encoding="utf-8")
    for old, new in (("when: not chocked or not chocks proved", "when: not chocks proved"),
                     ("while: [truck, coupling]\n    when: not chocked",
                      "while: [truck, coupling]\n    when: not parked")):
        assert text.count(old) == 1
        text = text.replace(old, new)
    rules.write_text(text, encoding="utf-8")
    status, output = _run("check", *files, "--alone", "--json")
    assert status == 1
    found = {finding["subject"]: finding for finding in json.loads(output)["findings"]
             if finding["rule"] == "roll-away"}
    assert set(found) == {"latch-open", "jaws-open", "latch-off", "jaws-off"}
    for step, finding in found.items():
        assert f"add 'chocked' to 'needs:' of the step '{step}'" in finding["message"]
        assert "the wheels are not chocked" in finding["dialogue"][-1]["text"]
        assert "nothing would hold the trailer" in finding["dialogue"][-1]["text"]


def test_a_finding_as_text_and_as_json(tmp_path: Path) -> None:
    written(tmp_path, ("    needs: [chocked]\n", ""))
    status, output = _run("check", tmp_path / "stay.yaml", "--alone")
    assert status == 1
    assert "you: go to pull away\n" in output and output.count("\nnever rule: ") == 0
    assert output.startswith("never rule: ")
    status, output = _run("check", tmp_path / "stay.yaml", "--alone", "--json")
    assert status == 1
    report = json.loads(output)
    assert report["sound"] is False
    assert report["findings"][0]["kind"] == "never rule"
    assert report["findings"][0]["dialogue"][0] == {"who": "you", "text": "start stay"}


OWN = """\
title: Own round
include: [shared/rules.yaml]
steps:
  - id: ahead
    do: Pull the trailer forward a little.
    place: front
    role: outside
    only if: awning
"""


@pytest.mark.parametrize(("rig", "found"), [("tandem-slide", True), ("small-single", False), ("", True)])
def test_for_a_rig_nobody_is_told_of_the_words_of_a_step_that_it_lacks(tmp_path: Path, rig: str, found: bool) -> None:
    """The tandem has an awning, the small one has none; without a rig the list is for every one."""
    (tmp_path / "own.yaml").write_text(OWN, encoding="utf-8")
    _, output = _run("check", tmp_path / "own.yaml", "--alone", "--json", *(["--rig", rig] if rig else []))
    about = {one["kind"] for one in json.loads(output)["findings"] if one["subject"] == "ahead"}
    assert about == ({"undeclared motion"} if found else set())


@pytest.mark.long
@pytest.mark.parametrize("rig", sorted(path.stem for path in (checklists_folder() / "rigs").glob("*.yaml")))
def test_the_library_is_proved_for_each_rig_by_itself(rig: str) -> None:
    """The proof for every rig leaves a trait open; a step that a given rig could never come to shows here."""
    status, output = _run("check", "--rig", rig)
    assert status == 0 and output.startswith("Proved "), output


def test_interlocks_are_listed_with_what_they_protect(tmp_path: Path) -> None:
    written(tmp_path)
    status, output = _run("check", tmp_path / "stay.yaml", "--alone", "--interlocks")
    assert status == 0
    assert "stay: pull-away needs 'chocked': roll-away" in output
    assert "stay: reverse needs 'chocked': no never rule hangs on it alone" in output


def test_who_stops_it_is_told_that_nothing_is_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("handsfree.proof.prove", stopped)
    status, output = _run("check", "storm", "--again")
    assert status == 1 and "stopped by you; nothing counts as proved" in output


def test_a_budget_too_small_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted in nodes, so that the verdict is the same on a slow or busy machine."""
    monkeypatch.setattr("handsfree.proof.Budget", lambda work: Budget(work=work // 1_000_000))
    status, output = _run("check", "storm", "--again", "--nodes", "10")
    assert status == 1 and "unproved: " in output and "allow more with --nodes" in output


@pytest.mark.parametrize("text, said", [
    ("steps: [", "is not valid YAML"),
    (STAY.replace("site?,", "site,").replace("[chocked]\n    ends", "[choked]\n    ends"),
     "'choked' is not a known fact"),
])
def test_a_file_that_does_not_load_is_status_2(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "bad.yaml").write_text(text, encoding="utf-8")
    status, output = _run("check", tmp_path / "bad.yaml")
    assert status == 2
    assert said in output and "bad.yaml, line" in output


def test_a_file_that_is_not_there_is_status_2() -> None:
    assert _run("check", "nowhere.yaml")[0] == 2
    assert _run("check", "arrive", "--rig", "nowhere")[0] == 2


def test_the_bench_shows_proof_and_plain_search_side_by_side(tmp_path: Path) -> None:
    status, output = _run("bench", "proof", "--steps", "10,60", "--plain", "0.2",
                          "--csv", tmp_path / "curve.csv")
    assert status == 0, output
    rows = (tmp_path / "curve.csv").read_text(encoding="utf-8").splitlines()
    assert len(rows) == 3 and rows[2].startswith("60,40,")
    large = rows[2].split(",")
    assert float(large[4]) > 0 and int(large[6]) < 500  # seconds, megabytes
    assert rows[2].endswith("given up")


@pytest.mark.parametrize("sizes", ["ten", "5", "10,999"])
def test_sizes_that_make_no_sense_are_status_2(sizes: str) -> None:
    assert _run("bench", "proof", "--steps", sizes)[0] == 2
