"""One forecast for the command and the voice: from what state, with whose times, for how many."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from benchmarks.simulated_journal import session_lines, write_journal
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.cli import main, wiring
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Answer, Done
from handsfree.errors import InputError
from handsfree.language.loader import load_language
from handsfree.review import history, number_format, planned_forecast
from handsfree.review.applying import after_walking
from handsfree.review.planned_forecast import Whose, kept_promises, outlook
from handsfree.review.records import PlanStep
from handsfree.review.scheduling import schedule
from handsfree.review.time_left import TimeLeft
from tests.review.book import START, Book

LIST = """\
title: Camp
facts:
  chocked: {says: the wheels are chocked, otherwise: the wheels are free, start: true}
gear:
  hose: the hose is out
  mat: the mat is out
questions:
  frost here: {ask: "Is there frost?", says: there is frost}
steps:
  - ask: frost here
  - {id: thaw, do: Warm the hose., only if: frost here, takes: [8, 10, 12]}
  - {id: hose in, do: Hose in., brings back: hose, takes: [4, 5, 6]}
  - {id: mat in, do: Mat in., brings back: mat, takes: [4, 5, 6]}
  - {id: sweep, do: Sweep., role: inside, takes: [8, 10, 12]}
  - {id: chocks away, do: Chocks away., ends: chocked, takes: [1, 1, 1]}
"""
OUT = frozenset({"chocked", "hose out", "mat out"})


@pytest.fixture
def camp(tmp_path: Path) -> Checklist:
    path = tmp_path / "camp.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


def stays(
    data: Path, camp: Checklist, count: int, *, minutes: float = 5.0, frost: bool = False,
    place: str = "Reed Lake", operator: str = "", rig: str = "survey trailer", first: int = 1,
    record: frozenset[str] = OUT,
) -> history.History:
    """Earlier stays in which each step took so many minutes."""
    names = [s for s in camp.order if s != "thaw" or frost]
    plan = tuple(PlanStep(s, *camp.steps[s].minutes) for s in camp.order)
    for number in range(first, first + count):
        seconds = np.array([60 * minutes if p.step in names else np.nan for p in plan])
        lines = session_lines(plan, seconds, checklist="camp", rig=rig, place=place,
                              began=START + timedelta(days=number),
                              rng=np.random.default_rng([number, len(rig)]))
        lines[0] |= {"record": sorted(record), "operator": {"": operator}}
        lines[1:1] = [{"n": 1, "at": lines[0]["at"], "t": 0.0, "what": "changed", "off": [],
                       "on": ["frost here answered", *(["frost here"] if frost else [])]}]
        for n, line in enumerate(lines, start=1):
            line["n"] = n
        write_journal(data / "rigs" / rig.replace(" ", "-"), number, lines)
    return history.load(data)


def run(*arguments: object, data: Path) -> Result:
    return CliRunner(env={"HANDSFREE_DATA": str(data)}).invoke(main, [str(a) for a in arguments])


def test_the_voice_and_the_command_tell_the_same(tmp_path: Path, camp: Checklist) -> None:
    data = tmp_path / "data"
    found = stays(data, camp, 6, frost=True)
    stays(data, camp, 3, minutes=20.0, rig="another", first=50)
    whose = Whose(rig="survey trailer", place="Reed Lake")
    told = outlook(camp, OUT, history.load(data).columns, whose)
    left = TimeLeft(camp, OUT, data, whose)
    assert left.ready(60) and len(found) == 6
    said = left(begin(camp, OUT)[0])
    assert said is not None
    assert said[0] == pytest.approx(float(np.median(told.totals)) / 60, abs=2.5), "spoken round"


def test_an_open_question_counts_as_the_place_has_it(tmp_path: Path, camp: Checklist) -> None:
    data = tmp_path / "data"
    stays(data, camp, 5, frost=True, place="Reed Lake")
    found = stays(data, camp, 5, frost=False, place="Dry Ridge", first=20).columns
    frosty, dry = (outlook(camp, OUT, found, Whose(place=place, rig="survey trailer"))
                   for place in ("Reed Lake", "Dry Ridge"))
    assert frosty.answers == {"frost here": True} and dry.answers == {"frost here": False}
    assert "thaw" in frosty.applies and "thaw" not in dry.applies
    new = outlook(camp, OUT, found, Whose(place="Nowhere", rig="survey trailer"))
    assert any("Nothing is on record of Nowhere" in sentence for sentence in new.told)
    state = begin(camp, OUT)[0]
    told = [one.left(state).minutes for one in (frosty, dry)]  # type: ignore[union-attr]
    assert told[0] - told[1] == pytest.approx(5, abs=2.0), "what thawing takes here"


def test_another_rigs_pace_moves_it_little(tmp_path: Path, camp: Checklist) -> None:
    """Ten stays of one's own with this rig outweigh ten of another's that took three times."""
    own = stays(tmp_path / "own", camp, 10).columns
    stays(tmp_path / "both", camp, 10)
    both = stays(tmp_path / "both", camp, 10, minutes=15.0, rig="another", first=30).columns
    alone, beside = (float(np.median(outlook(camp, OUT, found, Whose(
        rig="survey trailer"), answers={"frost here": False}).totals)) for found in (own, both))
    assert beside == pytest.approx(alone, rel=0.25)
    new = outlook(camp, OUT, both, Whose(rig="third"), answers={"frost here": False})
    assert any("no stay of rig third: borrowing from 20 stays" in s for s in new.told)


def test_a_record_out_of_phase_is_noticed_and_an_assumed_one_used(
    tmp_path: Path, camp: Checklist
) -> None:
    found = stays(tmp_path / "data", camp, 6).columns
    whose, answers = Whose(rig="survey trailer"), {"frost here": False}
    bare = frozenset[str]()
    told = outlook(camp, bare, found, whose, answers=answers)
    assert set(told.applies) >= {"hose in", "mat in", "chocks away"}
    assert any("By the record as it is now" in s and "Planned from the state" in s
               for s in told.told)
    as_is = outlook(camp, bare, found, whose, answers=answers, as_is=True)
    assert set(as_is.applies) == {"frost here", "sweep"}
    assert any("earlier stays had 5" in s for s in as_is.told)
    assert not outlook(camp, OUT, found, whose, answers=answers).told


def test_the_voice_says_what_the_command_says(tmp_path: Path, camp: Checklist) -> None:
    """More or less to do than usual, a new pace, borrowed times; each was silent by voice."""
    data = tmp_path / "data"
    stays(data, camp, 8)
    stays(data, camp, 5, minutes=8.0, first=40)
    state = begin(camp, frozenset())[0]

    def said(whose: Whose, record: frozenset[str]) -> dict[str, dict[str, str]]:
        left = TimeLeft(camp, record, data, whose)
        assert left.ready(60)
        told = left(state)
        assert told is not None
        return {key: dict(values) for key, values in told[2]}

    bare = said(Whose(rig="survey trailer"), frozenset())
    assert bare["time left apart"] == {"planned": "2", "usual": "5"}
    assert bare["time left slower"]["stays"] == "5"
    assert int(bare["time left slower"]["percent"]) == pytest.approx(60, abs=8)
    assert bare.keys() == {"time left apart", "time left slower"}
    new = said(Whose("two", "third"), OUT)
    assert {"time left operator", "time left rig"} <= new.keys()
    assert "time left apart" not in new


def test_a_slow_drift_is_told_by_voice_and_command_alike(tmp_path: Path, camp: Checklist) -> None:
    """Each stay 4 % slower than the one before it, 54 % in all after twelve; told in three languages."""
    data = tmp_path / "data"
    for number in range(1, 13):
        found = stays(data, camp, 1, minutes=5.0 * 1.04 ** (number - 1), first=number)
    whose = Whose(rig="survey trailer")
    slow = "It has been taking longer from stay to stay: 54% more over 12 stays."
    assert slow in outlook(camp, OUT, found.columns, whose).told
    left = TimeLeft(camp, OUT, data, whose)
    assert left.ready(60)
    told = left(begin(camp, OUT)[0])
    assert told is not None
    values = {key: dict(values) for key, values in told[2]}["time left drifting slower"]
    assert values["stays"] == "12" and int(values["percent"]) == pytest.approx(54, abs=4)
    for language in ("en", "de", "ko"):
        assert values["percent"] in load_language(language).templates[
            "time left drifting slower"].format(**values)
    assert not any("tay by stay" in told for told in outlook(
        camp, OUT, stays(tmp_path / "still", camp, 12).columns, whose).told)


def test_two_people_are_a_schedule_and_not_a_sum(camp: Checklist) -> None:
    """By hand: outside 0.1 + 5 + 5 + 1 minutes, inside 10 at the same time: 11.1 in all."""
    minutes = {"frost here": 0.1, "hose in": 5, "mat in": 5, "sweep": 10, "chocks away": 1}
    seconds = {step: 60.0 * m for step, m in minutes.items()}
    one, two = (schedule(camp, OUT, seconds, people=people) for people in (1, 2))
    assert (one.seconds / 60, two.seconds / 60) == pytest.approx((21.1, 11.1))
    assert [v.step for v in two.critical] == ["frost here", "hose in", "mat in", "chocks away"]
    assert two.ratio == pytest.approx(11.1 / 21.1) and one.ratio == 1.0
    without = schedule(camp, OUT, seconds, people=2, without=("sweep",))
    assert without.seconds == two.seconds, "not on the critical path"
    assert schedule(camp, OUT, seconds, people=2, without=("mat in",)).seconds / 60 == (
        pytest.approx(10.0)), "then sweeping sets the end"
    ordered = schedule(camp, OUT, seconds, order=("sweep", "mat in"))
    assert [v.step for v in ordered.visits][:3] == ["sweep", "mat in", "frost here"]
    nobody = history.load(Path("/nonexistent")).columns
    totals = [float(np.median(outlook(camp, OUT, nobody, Whose(people=people),
                                      answers={"frost here": False}).totals)) / 60
              for people in (1, 2)]
    assert totals[1] / totals[0] == pytest.approx(11.1 / 21.1, rel=0.08)


def test_what_happened_today_counts_under_way(tmp_path: Path, camp: Checklist) -> None:
    found = stays(tmp_path / "data", camp, 8).columns
    told = outlook(camp, OUT, found, Whose(rig="survey trailer"), answers={"frost here": False})
    state = begin(camp, OUT)[0]
    state, _ = advance(camp, state, Answer(False))
    state, _ = advance(camp, state, Done())
    usual, slow = (told.left(state, done={"hose in": seconds, "frost here": seconds})
                   for seconds in (300.0, 450.0))
    assert usual is not None and slow is not None
    assert usual.minutes == pytest.approx(15, rel=0.1)
    assert slow.minutes > 1.1 * usual.minutes


def test_after_another_checklist() -> None:
    """As after a usual arrival: 'depart' then has all that 'arrive' put out."""
    arrive, depart = (wiring.plan(name, "small-single", Path("/nonexistent")).checklist
                      for name in ("arrive", "depart"))
    record = wiring.on_record(wiring.plan("arrive", "small-single", Path("/nonexistent")))
    after = after_walking(arrive, record)
    nobody = history.load(Path("/nonexistent")).columns
    road = outlook(depart, record, nobody)
    camped = outlook(depart, after, nobody, after="arrive")
    assert len(camped.applies) > 3 * len(road.applies)
    assert f"only {len(road.applies)} of the {len(road.plan)} steps of 'depart' apply" in (
        road.told[0]), "no earlier stay that it could be compared with"
    assert not any("only" in sentence for sentence in camped.told)
    assert "as after a usual 'arrive'" in camped.told[0]


def test_the_command_says_what_it_assumes(tmp_path: Path, camp: Checklist) -> None:
    data = tmp_path / "data"
    done = run("forecast", "depart", "--by", "11:00", "--rig", "small-single", "--after", "arrive",
               data=data)
    assert done.exit_code == 0, done.output
    assert "Planned as after a usual 'arrive'" in done.output
    alone, two = (run("forecast", "arrive", "--by", "11:00", "--rig", "tandem-slide", *more,
                      data=data).output for more in ((), ("--two",)))
    first = [text.split("80% in time: start by ")[1][:5] for text in (alone, two)]
    assert first[0] < first[1], "two may start later"


def test_without_a_rig_file_the_rig_is_named_and_not_pooled(
    tmp_path: Path, camp: Checklist
) -> None:
    data = tmp_path / "data"
    stays(data, camp, 6)
    stays(data, camp, 3, minutes=20.0, rig="another", first=50)
    one = run("forecast", "camp", "--by", "11:00", "--rig", "survey trailer", data=data)
    assert one.exit_code == 0 and "no rig file" in one.output, one.output
    assert "camp: 5 steps apply" in one.output
    two = run("forecast", "camp", "--by", "11:00", "--rig", "survey trailer", "--two", data=data)
    assert "two people cannot be scheduled" in two.output, "it told one person's sum in silence"
    latest = run("forecast", "camp", "--by", "11:00", data=data)
    assert "Of 2 rigs on record this is for the latest, another" in latest.output
    none = run("forecast", "camp", "--by", "11:00", "--rig", "nobody's", data=data)
    assert none.exit_code == 2 and none.output.count("\n") == 1


def test_it_checks_itself_on_the_history(tmp_path: Path, camp: Checklist) -> None:
    found = stays(tmp_path / "data", camp, 12).columns
    kept = kept_promises(found, "camp")
    assert kept is not None and kept.stays == 11
    assert kept.half <= kept.eighty <= kept.stays and kept.eighty >= 6
    assert kept_promises(stays(tmp_path / "few", camp, 3).columns, "camp") is None
    shown = run("review", "--checklist", "camp", "--data", tmp_path / "data", data=tmp_path)
    assert f"of the last {kept.stays} stays" in " ".join(shown.output.split())


def pair_stays(data: Path, camp: Checklist, minutes: list[float]) -> history.History:
    """Stays by two: the hose, the mat and the chocks outside while somebody sweeps inside."""
    plan = [[s, *camp.steps[s].minutes, s != "thaw"] for s in camp.order]
    for number, each in enumerate(minutes, start=1):
        book = Book(session=f"two-{number}", checklist="camp", plan=plan,
                    wall=START + timedelta(days=number))
        book.lines[0] |= {"operators": ["outside", "inside"], "who": "outside",
                          "record": sorted(OUT)}
        book.write(0, "changed", on=["frost here answered"], off=[], who="outside")
        for who, begun, steps in (("outside", 0.0, ("frost here", "hose in", "mat in",
                                                    "chocks away")), ("inside", 0.0, ("sweep",))):
            for step in steps:
                book.write(begun, "offered", step=step, who=who)
                begun += 60 * each * camp.steps[step].minutes[1]
                book.write(begun, "reported", step=step, kind="report", who=who)
        book.lines[1:] = sorted(book.lines[1:], key=lambda line: line["t"])
        for n, line in enumerate(book.lines, start=1):
            line["n"] = n
        book.close(max(line["t"] for line in book.lines) - book.clock).save(data, number)
    return history.load(data)


def test_it_checks_itself_on_stays_by_two(tmp_path: Path, camp: Checklist) -> None:
    """They were left out.  By hand, at the plan's pace: 11.15 minutes side by side, 21.15 in all;
    so a forecast by the sum would never be late, one by the schedule is at times."""
    pace = [1.0, 1.2, 0.9, 1.1, 1.0, 0.95, 1.15, 1.05, 0.9, 1.1, 1.3, 0.85]
    found = pair_stays(tmp_path / "data", camp, pace).columns
    assert found.sessions["seconds"][0] / 60 == pytest.approx(11.15)
    kept = kept_promises(found, "camp", camp)
    assert kept is not None and kept.stays == 11 and not kept.left_out
    assert 2 <= kept.half <= 9 and kept.half <= kept.eighty <= 11
    assert kept_promises(found, "camp") is None, "without the checklist none can be judged"
    stays(tmp_path / "data", camp, 4, first=30)
    mixed = kept_promises(history.load(tmp_path / "data").columns, "camp")
    assert mixed is not None and (mixed.stays, mixed.left_out) == (4, 11)
    assert "for want of their checklist: 11." in number_format.kept(mixed)


def test_site_answers_are_read_from_the_journal(tmp_path: Path, camp: Checklist) -> None:
    found = stays(tmp_path / "data", camp, 1, frost=True)
    assert json.loads(found.columns.text("answers")[0]) == {"frost here": True}


def test_without_a_step_and_in_another_order(camp: Checklist) -> None:
    nobody = history.load(Path("/nonexistent")).columns
    answers = {"frost here": False}
    one, two = (outlook(camp, OUT, nobody, Whose(people=people), answers=answers)
                for people in (1, 2))
    assert one.what_if().told == []
    assert one.what_if(("sweep",)).told == ["Without sweep: 10 min less."]
    chain, sweep, mat = two.what_if(("sweep", "mat in")).told
    assert chain.startswith("What sets the time of two, the longest first: ")
    assert "hose in (outside, 5 min)" in chain and "sweep" not in chain
    assert sweep == "Without sweep it takes as long: others set the time."
    assert mat.startswith("Without mat in: ") and mat.endswith(" less.")
    assert one.what_if(first=("sweep", "mat in")).told == ["With sweep, mat in first: as long."]
    with pytest.raises(InputError, match="'thaw' is no step that will come"):
        one.what_if(("thaw",))


def test_a_step_that_will_not_come_is_refused_before_anything_is_reckoned(
    tmp_path: Path, camp: Checklist, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever mistypes a step is told in one line, not after a whole forecast."""
    data = tmp_path / "data"
    mistyped = run("forecast", "arrive", "--by", "11:00", "--rig", "small-single", "--without",
                   "chocks", data=data)
    assert mistyped.exit_code == 2 and mistyped.output.count("\n") == 1
    assert "'chocks' is not a step in 'arrive' (did you mean 'chock'?)" in mistyped.output
    stays(data, camp, 2)
    other = run("forecast", "camp", "--by", "11:00", "--first", "sweep", data=data)
    assert other.exit_code == 2 and other.output.count("\n") == 1
    monkeypatch.setattr(planned_forecast, "fit", lambda *a, **k: pytest.fail("it was reckoned"))
    with pytest.raises(InputError, match="'thaw' is no step that will come"):
        outlook(camp, OUT, history.load(data).columns, answers={"frost here": False},
                asked=("thaw",))


def test_an_order_that_would_hurt_is_not_taken() -> None:
    """'Pull away' has an interlock: wanted first, it comes no sooner than it may."""
    arrive = wiring.plan("arrive", "small-single", Path("/nonexistent"))
    found = outlook(arrive.checklist, wiring.on_record(arrive),
                    history.load(Path("/nonexistent")).columns)
    steps = [step for step in ("pull-away", "unhitch", "chairs-out") if step in found.applies]
    said, = found.what_if(first=steps[:1]).told
    assert "cannot come as early as that" in said
