"""Commands as an owner typed them, and what he was told instead of what he needed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from handsfree.cli import main
from handsfree.cli.engines import NAMES
from handsfree.cli.measures import Coordinate, Measure
from handsfree.cli.work import work
from handsfree.storage.paths import find_rig


@pytest.fixture(autouse=True)
def own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The owner's data folder, empty."""
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    (tmp_path / "rigs").mkdir()
    return tmp_path


def run(*words: object, answers: str = "") -> tuple[int, str]:
    done = CliRunner().invoke(main, [str(word) for word in words], input=answers or None)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, " ".join(done.output.split())


GENERATOR = ("work generator --tank 3gal --fuel 2gal --rated 2800W --full 5h --quarter 12h"
             " --load 1000W --altitude").split()


@pytest.mark.parametrize("altitude", ["7000ft", "8000ft", "2400m", "4500m", "15000ft"])
def test_a_generator_may_stand_on_a_mountain(altitude: str) -> None:
    """The share that it loses is the same up there; Pikes Peak's road ends at 14,115 ft (from memory)."""
    code, said = run(*GENERATOR, altitude)
    assert code == 0 and "OK" in said


def test_no_site_is_higher_than_the_mountains() -> None:
    code, said = run(*GENERATOR, "16000ft")
    assert code == 2 and "cannot be" in said


def test_five_bar_are_not_over_five_bar() -> None:
    """EN 806-2, 500 kPa, as `water.CODES` has it: at the limit is not over it."""
    code, said = run("work", "water", "--tap", "5bar")
    assert code == 0 and "DO NOT" not in said
    code, said = run("work", "water", "--tap", "5.1bar")
    assert code == 1 and "code" in said
    code, said = run("work", "water", "--tap", "5.5bar", "--limit", "3bar")
    assert code == 1 and "over the 5 bar" not in said and "3 bar" in said


def test_how_much_a_cylinder_was_taken_for_is_said() -> None:
    code, said = run("work", "propane", "--gas", "30lb", "--furnace", "30000BTU/h", "--outside", "20F")
    assert code == 2 and "30 lb" in said and "20 lb" in said


def test_whoever_has_not_said_what_he_has_is_asked_for_it() -> None:
    code, said = run(*"work level --low left --angle 2deg --track 84in".split())
    assert code == 0 and "CAUTION" in said and "nothing you have" not in said


def test_one_of_a_thing_is_one() -> None:
    said = run(*"work supply --breaker 30A --cord 30A".split())[1]
    assert "1 amps" not in said
    for watts, told in (("3480 W", "1 amp to spare"), ("3300 W", "2.5 amps to spare")):
        assert told in run("work", "power", "--supply", "30", "--load", f"kettle={watts}")[1]


@pytest.mark.parametrize("words", [["weight", "-3gal"], ["alarm", "-5ppm"]])
def test_a_number_below_zero_is_no_option(words: Sequence[str]) -> None:
    code, said = run("work", *words)
    assert code == 2 and "no such option" not in said and "below zero" in said


def _shown() -> list[tuple[str, click.Option, str]]:
    return [(name, one, one.make_metavar(click.Context(command)))
            for name, command in work.commands.items() for one in command.params
            if isinstance(one, click.Option) and isinstance(one.type, Measure | Coordinate)
            and not one.metavar]


@pytest.mark.parametrize(("name", "one", "shown"), _shown(), ids=lambda it: getattr(it, "name", it))
def test_the_example_of_each_option_can_be_typed(name: str, one: click.Option, shown: str) -> None:
    assert one.type.convert(shown, one, None) is not None


@pytest.mark.parametrize(("command", "flag", "least", "most"), [
    ("tongue", "--tongue", 100, 2500), ("level", "--piece", 0.1, 3), ("level", "--over", 6, 78),
    ("level", "--bubble", 0.05, 4), ("level", "--step", 0.5, 8), ("level", "--travel", 1, 30),
    ("level", "--limit", 1, 10), ("water", "--regulator", 40, 60), ("drop", "--length", 10, 100),
    ("breakaway", "--each", 2, 4), ("cylinder", "--tare", 10, 40), ("axles", "--tire", 1000, 4000),
    ("generator", "--altitude", 1000, 15000), ("dusk", "--longitude", -180, -60)])
def test_the_example_fits_the_option(command: str, flag: str, least: float, most: float) -> None:
    """What one of these usually is, as common practice has it, without a source."""
    one, shown = next((one, shown) for name, one, shown in _shown()
                      if name == command and flag in one.opts)
    assert least <= one.type.convert(shown, one, None) <= most, shown


def test_limits_that_are_swapped_are_the_rig_files(own: Path) -> None:
    text = find_rig("tandem-slide").read_text("utf-8")
    swapped, count = re.subn(r"tyre psi low: \d+", "tyre psi low: 80", text)
    swapped, more = re.subn(r"tyre psi high: \d+", "tyre psi high: 68", swapped)
    assert count == more == 1
    (own / "rigs" / "mine.yaml").write_text(swapped, encoding="utf-8")
    line = next(at for at, one in enumerate(swapped.splitlines(), 1) if "tyre psi low" in one)
    code, said = run("check", "before-leaving-home", "--rig", "mine")
    assert code and f"mine.yaml, line {line}" in said and "road.yaml" not in said
    (own / "rigs" / "mine.yaml").write_text(re.sub(r"\n *tyre psi high: 68", "", swapped), encoding="utf-8")
    code, said = run("check", "before-leaving-home", "--rig", "mine")
    assert code and "the file of the rig" in said and "road.yaml" not in said


@pytest.mark.parametrize("name", ["stop", "help", "wait", "pause", "finish", "skip", "again",
                                  "the chocks are set", "chocks set"])
def test_what_is_said_for_something_else_names_no_place(name: str) -> None:
    code, said = run("place", "add", name)
    assert code == 2 and name in said and "Added" not in said


def test_two_places_become_one_only_when_it_is_agreed_to() -> None:
    run("place", "add", "gravel pit", "heron meadow")
    code, said = run("place", "rename", "gravel pit", "heron meadow", answers="n\n")
    assert code == 1 and "?" in said and "gravel pit" in run("place")[1]
    assert run("place", "rename", "gravel pit", "heron meadow", "--yes")[0] == 0
    assert "gravel pit" not in run("place")[1]


def test_the_rig_is_named_before_or_behind_the_subcommand(own: Path) -> None:
    for name in ("big", "small"):
        (own / "rigs" / f"{name}.yaml").write_text(
            find_rig("small-single").read_text("utf-8").replace("name: Small", f"name: The {name}"),
            encoding="utf-8")
    code, said = run("rig", "change", "--rig", "big", "--yes", "I put the entry step out")
    assert code in (0, 1) and "Recorded" in said  # 1: it tells a danger, too
    assert "Recorded" in run("rig", "--rig", "big", "change", "--yes", "the entry step is in")[1]


def test_without_a_record_nothing_stands_under_on_record() -> None:
    code, said = run("rig", "--rig", "small-single")
    assert code == 0 and " on record for the road" not in said.replace("not on record", "")
    assert "not on record" in said


def test_a_correction_says_what_has_to_be_looked_at_again(own: Path) -> None:
    run("rig", "--rig", "small-single", "set", "chocked", "yes")
    run("rig", "--rig", "small-single", "set", "chocks proved", "yes", answers="y\n")
    said = run("rig", "--rig", "small-single", "set", "chocked", "no")[1]
    assert "chocks" in said


def test_forgetting_all_takes_drafts_along_and_says_so(own: Path) -> None:
    draft = own / "rigs" / "my-van.draft"
    draft.write_text("{}")
    code, said = run("forget", "--all", "--yes")
    assert code == 0 and not draft.exists() and "my-van.draft" in said
    assert "draft" in run("forget", "--help")[1]


def test_every_command_that_hears_takes_every_engine() -> None:
    """One place says which; `open_recogniser` knows each of them."""
    from handsfree.hearing import engines

    assert set(NAMES) == {"auto", "vosk", *engines._OPENERS}
    for words in (["run"], ["doctor"], ["tune"], ["learn"], ["stand-by"], ["service", "install"]):
        assert all(engine in run(*words, "--help")[1] for engine in NAMES), words


def _typed(*answers: str) -> str:
    return "\n".join(answers) + "\n"


def test_going_back_keeps_what_was_answered(own: Path) -> None:
    """Back at the kinds, Enter takes the kind that was chosen, with what was changed of it."""
    done = CliRunner().invoke(main, ["rig", "new", "Mine"], input=_typed("3", "24", "b", "", "b", "1"))
    first, again, other = done.output.split("like [")[1:4]
    assert first.startswith("1]") and again.startswith("3]") and other.startswith("3]")
    assert "[ ] its jack is electric" in first.rpartition("Numbers of")[0].rpartition("Numbers of")[2]
    assert "[ ] its jack is electric" in again and "[x] it has two axles" in again
    assert "[ ] it has two axles" in other or "two axles" not in other  # another kind begins anew


def test_a_figure_that_is_no_number_is_shown_one_that_fits() -> None:
    from handsfree.checklist.bounds import out_of_bounds

    assert "1e+08" not in out_of_bounds("gross rating", 1e8)
    assert "100000000" in out_of_bounds("gross rating", 1e8)


def test_a_forecast_after_another_list_says_that_it_needs_a_rig_file(own: Path) -> None:
    from tests.review.test_wanting import small

    small().save(own)
    code, said = run("forecast", "depart", "--after", "arrive", "--by", "11:00", "--data", own)
    assert code == 2 and "--after" in said and "rig file" in said


def test_what_the_disk_refuses_is_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*_: object) -> None:
        raise PermissionError(13, "Permission denied", "/data/places.json")

    monkeypatch.setattr("handsfree.storage.places.load_names", refuses)
    code, said = run("place")
    assert code == 4 and "/data/places.json: Permission denied" in said


def test_a_kill_while_journals_are_forgotten_leaves_none_missing(
    own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """That it was on purpose is written before the first of them is gone."""
    from handsfree.storage.record import forgotten
    from tests.review.test_wanting import START, small

    small("old").save(own, 1)
    small("new", wall=START.replace(year=2027)).save(own, 2)

    def killed(files: Sequence[Path], folders: Sequence[Path]) -> None:
        raise InterruptedError("killed")

    monkeypatch.setattr("handsfree.cli.forget._delete", killed)
    run("forget", "--before", "2027-01-01", "--yes")
    folder = next(path for path in (own / "rigs").iterdir() if (path / "sessions").is_dir())
    assert len(list((folder / "sessions").glob("*.jsonl"))) == 2 and len(forgotten(folder)) == 1


@pytest.mark.parametrize("words", ["the mat is quite in", "the tires are low", "I forgot the awning",
                                   "the wayy is clear"])
def test_no_scrap_of_a_word_is_guessed(words: str) -> None:
    """'mat' for 'at' or 'tires' for 're' helps nobody."""
    said = run("rig", "--rig", "small-single", "change", "--yes", words)[1]
    assert not re.search(r"did you mean '[^']{1,3}'", said), said


def test_a_slip_of_the_pen_is_guessed() -> None:
    said = run("rig", "--rig", "small-single", "change", "--yes", "the hose is stowwed")[1]
    assert "did you mean 'stowed'" in said, said
