"""The event log against IEEE 1849 (XES): its schema's order and types, and another reader.

The schema of the 2016 edition (dated 15 April 2020, which the 2023 edition keeps) says of a log:
extensions, globals, classifiers, attributes, traces, events, in this order; of a trace:
attributes, then events.  The checks below state that and the types of values.  The thirteen
transitions of the lifecycle extension are from memory.
"""

from __future__ import annotations

import json
import os
import re
import xml.etree.ElementTree as ET
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from benchmarks.simulated_journal import Mishaps, session_lines, write_journal
from handsfree.checklist.model import SIDES
from handsfree.cli import wiring
from handsfree.crew.crew import Crew
from handsfree.engine.state import Due, Mode
from handsfree.review import history
from handsfree.review.applying import good_event
from handsfree.review.history import History
from handsfree.review.records import PlanStep
from handsfree.review.xes import transitions, write_xes
from tests.review.book import START, Book

ATTRIBUTES = {"string", "date", "int", "float", "boolean", "id", "list"}
ORDER = ("extension", "global", "classifier", "attribute", "trace", "event")
LIFECYCLE = {"schedule", "assign", "reassign", "withdraw", "start", "suspend", "resume",
             "complete", "autoskip", "manualskip", "pi_abort", "ate_abort", "unknown"}
NAME = re.compile(r"[A-Za-z_:][\w.:-]*")


@pytest.fixture
def found(tmp_path: Path) -> History:
    rng = np.random.default_rng(2)
    plan = tuple(PlanStep(name, 0.5, 1, 2) for name in ("chock", "hose & <tap>", 'mat "x"'))
    for number in range(1, 7):
        write_journal(tmp_path / "rigs" / "r", number, session_lines(
            plan, rng.uniform(30, 90, 3), began=START + timedelta(days=number), pause=20.0,
            place='Loop "4" & <more>', rng=rng,
            mishaps=Mishaps(skip=0.3, left=0.2, refusal=0.2)))
    Book(session="unfinished").offer(0, "chock").save(tmp_path, 7)
    return history.load(tmp_path)


@pytest.fixture
def root(found: History, tmp_path: Path) -> ET.Element:
    write_xes(found, tmp_path / "log.xes")
    return ET.parse(tmp_path / "log.xes").getroot()


def kind(element: ET.Element) -> str:
    return "attribute" if element.tag in ATTRIBUTES else element.tag


def test_elements_come_in_the_order_of_the_schema(root: ET.Element) -> None:
    assert root.tag == "log" and re.fullmatch(r"\d+\.\d+", root.get("xes.version", ""))
    places = [ORDER.index(kind(child)) for child in root]
    assert places == sorted(places) and {"extension", "global", "classifier", "trace"} <= {
        child.tag for child in root}
    for trace in root.iter("trace"):
        kinds = [kind(child) for child in trace]
        assert set(kinds) <= {"attribute", "event"}
        assert kinds == sorted(kinds), "attributes before events"
    for part in (*root.iter("event"), *root.iter("global")):
        assert {kind(child) for child in part} == {"attribute"}


def test_values_have_the_types_that_their_elements_promise(root: ET.Element) -> None:
    checks = {"date": datetime.fromisoformat, "int": int, "float": float,
              "boolean": {"true": True, "false": False}.__getitem__, "string": str}
    for element in root.iter():
        if element.tag in ATTRIBUTES:
            assert set(element.keys()) == {"key", "value"}
            assert NAME.fullmatch(element.get("key", "")), "xs:Name"
            value = checks[element.tag](element.get("value", ""))
            if isinstance(value, datetime):
                assert value.tzinfo is not None
    for classifier in root.iter("classifier"):
        assert set(classifier.keys()) == {"name", "scope", "keys"}
        assert re.fullmatch(r"[A-Za-z_][\w.-]*", classifier.get("name", "")), "xs:NCName"


def test_what_is_declared_global_is_in_every_element(root: ET.Element) -> None:
    for scope, elements in (("trace", root.iter("trace")), ("event", root.iter("event"))):
        declared = {child.get("key") for part in root.iter("global")
                    if part.get("scope") == scope for child in part}
        assert declared
        for element in elements:
            assert declared <= {child.get("key") for child in element}


def test_prefixed_keys_belong_to_declared_extensions(root: ET.Element) -> None:
    prefixes = {extension.get("prefix") for extension in root.iter("extension")}
    keys = {child.get("key", "") for child in root.iter() if child.tag in ATTRIBUTES}
    assert {key.split(":")[0] for key in keys if ":" in key} <= prefixes


def test_every_instance_lives_by_the_standard_lifecycle(found: History, root: ET.Element) -> None:
    """start once, suspend and resume by turns, one end at most; time never goes back."""
    ends = {"complete", "manualskip", "ate_abort", "pi_abort"}
    seen = set()
    for trace in root.iter("trace"):
        lives: dict[tuple[str, str], list[str]] = {}
        last = None
        for event in trace.iter("event"):
            values = {child.get("key"): child.get("value", "") for child in event}
            at = datetime.fromisoformat(values["time:timestamp"])
            assert last is None or at >= last
            last = at
            lives.setdefault((values["concept:name"], values["concept:instance"]), []).append(
                values["lifecycle:transition"])
        for life in lives.values():
            seen |= set(life)
            assert set(life) <= LIFECYCLE
            if life == ["manualskip"]:
                continue
            assert life[0] == "start" and life.count("start") == 1
            assert not set(life[:-1]) & ends
            middle = [t for t in life if t in ("suspend", "resume")]
            assert middle == [("suspend", "resume")[n % 2] for n in range(len(middle))]
    assert {"start", "suspend", "resume", "complete", "manualskip"} <= seen


def test_pausing_leaving_giving_up_and_closing_have_their_transitions() -> None:
    from handsfree.review.timings import record

    book = Book().offer(0, "chock").write(5, "paused").offer(25, "chock", "resumed")
    book.offer(30, "hose").write(40, "skipped", step="hose").offer(40, "chock").done(50, "chock")
    book.offer(50, "washer").write(55, "failed", step="washer", band="low", **{"try": 2})
    book.done(55, "washer", "give up").offer(55, "mat").close(60, "mat", "sign")
    lives: dict[str, list[tuple[str, float]]] = {}
    for event in transitions(record(book.lines)):
        lives.setdefault(event.step, []).append((event.transition, event.at))
    assert lives["chock"] == [("start", 0), ("suspend", 5), ("resume", 25), ("suspend", 30),
                              ("resume", 40), ("complete", 50)]
    assert lives["hose"] == [("start", 30), ("manualskip", 40)]
    assert lives["washer"] == [("start", 50), ("ate_abort", 55)]
    assert lives["mat"] == [("start", 55), ("suspend", 60), ("pi_abort", 60)]
    assert lives["sign"] == [("manualskip", 60)]


def test_times_between_transitions_are_the_records_times(found: History) -> None:
    for row in range(len(found)):
        session = found.session(row)
        running: dict[tuple[str, int], float] = {}
        total: dict[str, float] = {}
        for event in transitions(session):
            key = (event.step, event.instance)
            if event.transition in ("start", "resume"):
                running[key] = event.at
            elif key in running:
                total[event.step] = total.get(event.step, 0.0) + event.at - running.pop(key)
        for step in session.steps:
            assert total.get(step.step, 0.0) == pytest.approx(step.elapsed, abs=1e-6)


def test_pm4py_reads_back_what_was_written(found: History, tmp_path: Path) -> None:
    pm4py = pytest.importorskip("pm4py", reason="the extra 'test' is not installed")
    path = tmp_path / "log.xes"
    count = write_xes(found, path)
    log = pm4py.read_xes(str(path))
    assert len(log) == count
    assert log["case:concept:name"].nunique() == len(found) == 7
    wanted = [(t.step, t.transition) for row in range(len(found))
              for t in transitions(found.session(row))]
    assert list(zip(log["concept:name"], log["lifecycle:transition"], strict=True)) == wanted
    first = log.iloc[0]
    assert first["time:timestamp"].to_pydatetime() == found.columns.session(0).began
    assert set(log["case:place"]) == {"", 'Loop "4" & <more>'}


def test_it_is_valid_by_the_schema_itself(found: History, tmp_path: Path) -> None:
    """The schema's licence is not stated, so it is not kept here: name a copy to try it."""
    schema = os.environ.get("HANDSFREE_XES_SCHEMA", "")
    if not schema:
        pytest.skip("HANDSFREE_XES_SCHEMA names no copy of the standard's schema")
    etree = pytest.importorskip("lxml.etree", reason="the extra 'test' is not installed")
    write_xes(found, tmp_path / "log.xes")
    judge = etree.XMLSchema(etree.parse(schema))
    judge.assertValid(etree.parse(str(tmp_path / "log.xes")))


# --- a whole stay of two people ------------------------------------------------------------------

@pytest.fixture(scope="module")
def stay(tmp_path_factory: pytest.TempPathFactory) -> History:
    """Arrival and departure of two people on one record, by the session's own two conversations;
    each step takes its own time, and who is done goes on."""
    data = tmp_path_factory.mktemp("stay")
    for name in ("arrive", "depart"):
        made = wiring.plan(name, "tandem-slide", data)
        log, begin, _ = wiring.open_journal(made, resume=False, place="", engine="none",
                                            rehearsal=False, operators=2)
        crew = Crew(made.checklist, made.language, log)
        begin(crew.lead, 0.0, log)
        now, busy = 0.0, dict.fromkeys(SIDES, 0.0)
        at = dict.fromkeys(SIDES, "")
        for _ in range(4000):
            for side in SIDES:
                here = crew.both.of(side).at
                if here != at[side]:
                    at[side] = here
                    busy[side] = now + 20 + 7 * (len(here) % 11)
            side = min((s for s in SIDES if at[s]), key=busy.__getitem__, default=SIDES[0])
            now = max(now, busy[side]) + 0.25
            one = crew.partners[side]
            before = crew.both
            for _ in range(6):
                event = good_event(one.checklist, one.state, {}, {})
                if event is None:
                    break
                one.take(event, now)
                if crew.both.of(side).at != at[side]:
                    break
            if crew.both == before:
                busy[side] += 5.0  # waits for the other one
            if all(crew.both.of(s).mode is Mode.CLOSED for s in SIDES):
                break
            if crew.both.of(SIDES[0]).mode is Mode.WAITING:
                for step in sorted(crew.both.of(SIDES[0]).waits):
                    crew.lead.take(Due(step), now)
        log.close()
    return history.load(data)


def test_pm4py_finds_a_whole_stay_of_two_in_order(stay: History, tmp_path: Path) -> None:
    """Token-based replay (van der Aalst, Process Mining, 2nd edition 2016, section 8.2) of the
    log on the net that the inductive miner finds in it: fitness 1, with both resources."""
    pm4py = pytest.importorskip("pm4py", reason="the extra 'test' is not installed")
    assert len(stay) == 2 and stay.columns.sessions["closed"].all()
    write_xes(stay, tmp_path / "stay.xes")
    log = pm4py.read_xes(str(tmp_path / "stay.xes"))
    assert set(log["org:resource"]) == {"outside", "inside"}
    ends = log[log["lifecycle:transition"] == "complete"]
    net, first, last = pm4py.discover_petri_net_inductive(ends)
    found = pm4py.fitness_token_based_replay(ends, net, first, last)
    assert found["log_fitness"] == 1.0 and found["percentage_of_fitting_traces"] == 100.0
    for _, trace in log.groupby("case:concept:name"):
        lives: dict[tuple[str, str], list[str]] = {}
        for _, event in trace.iterrows():
            lives.setdefault((event["concept:name"], event["concept:instance"]), []).append(
                event["lifecycle:transition"])
        for life in lives.values():
            assert life[0] == "start" and life.count("start") == 1
            assert life[-1] in ("complete", "manualskip", "suspend")
        started = trace[trace["lifecycle:transition"] == "start"]
        assert started.groupby("concept:name")["org:resource"].nunique().max() == 2, (
            "a step for both has both")


def test_a_second_parser_finds_the_same_minutes(stay: History, tmp_path: Path) -> None:
    """Plain JSON and arithmetic on the journal's lines, nothing of the room's code."""
    for row, path in enumerate(stay.paths()):
        at: dict[str, tuple[str, float]] = {}
        total: dict[str, float] = {}

        def leave(side: str, now: float, at: dict[str, tuple[str, float]] = at,
                  total: dict[str, float] = total) -> None:
            if side in at:
                step, since = at.pop(side)
                total[step] = total.get(step, 0.0) + now - since

        now = 0.0
        for text in path.read_text(encoding="utf-8").splitlines():
            line = json.loads(text)
            now = line["t"]
            for one in (line, *line.get("then", [])):
                side = one.get("who") or line.get("who") or "outside"
                if one["what"] == "offered" and at.get(side, ("",))[0] != one["step"]:
                    leave(side, now)
                    at[side] = (one["step"], now)
                elif one["what"] == "reported":
                    for other in [s for s, (step, _) in at.items() if step == one["step"]]:
                        leave(other, now)
                elif one["what"] in ("closed", "waiting", "suspended"):
                    for other in list(at):
                        leave(other, now)
        found = {s.step: s.elapsed for s in stay.session(row).steps if s.elapsed > 0}
        assert found.keys() == {step for step, seconds in total.items() if seconds > 0}
        for step, seconds in found.items():
            assert seconds == pytest.approx(total[step], abs=0.01), step
