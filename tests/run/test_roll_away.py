"""The chocks taken out of the rules of a copy: the proof shows how the trailer rolls; by voice the
same thing is an alarm."""

import shutil
from pathlib import Path

from click.testing import CliRunner

from handsfree.cli import main
from handsfree.storage.paths import checklists_folder
from tests.run.test_scenes import Played, ways


def test_without_its_chocks_the_proof_tells_how_the_trailer_rolls_away(tmp_path: Path) -> None:
    copy = tmp_path / "checklists"
    shutil.copytree(checklists_folder(), copy)
    path = copy / "shared" / "rules.yaml"  # the chocks are asked for by the rules about the hitch
    text = path.read_text(encoding="utf-8")
    for old, new in (("when: not chocked or not chocks proved", "when: not chocks proved"),
                     ("while: [truck, coupling]\n    when: not chocked",
                      "while: [truck, coupling]\n    when: not parked")):
        assert text.count(old) == 1, "the rule is not where it was"
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")

    done = CliRunner().invoke(main, ["check", str(copy / "arrive.yaml"), "--rig", "survey-trailer"])
    assert done.exit_code == 1, done.output
    assert "'roll-away'" in done.output and "add 'chocked' to 'needs:'" in done.output
    said = [line.strip() for line in done.output.splitlines() if line.strip().startswith("you: ")]
    assert said[-1] == "you: latch is open"  # not read back: its own words are enough to refuse
    assert "could roll away" in done.output


@ways
def test_the_alarm_is_raised_before_the_truck_may_leave(played: Played, tmp_path: Path) -> None:
    lines, said = played("chocks-taken-back", tmp_path)
    assert "danger! nothing would hold the trailer" in said
    back = next(x.n for x in lines if x.what == "reported" and x.of == "take back")
    alarm = next(x for x in lines if x.what == "alarm" and x.n >= back)
    assert alarm.rule == "roll-away"
    held = next(x.n for x in lines if x.what == "reported" and x.of == "resolve")
    gone = next(x.n for x in lines if x.what == "reported" and x.step == "pull-away")
    assert alarm.n < held < gone
