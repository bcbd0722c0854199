"""`handsfree rig new`: a kind, what differs, the placards; back, kept, bounded, and never a danger
written down without a word."""

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from handsfree.checklist.bounds import BOUNDS, MAY_BE_NOUGHT, out_of_bounds
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist, Origin
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.cli import main
from handsfree.errors import AuthorError
from handsfree.storage.paths import checklists_folder
from handsfree.storage.rig_draft import FIGURES, NEEDS

KINDS = sorted((checklists_folder() / "kinds").glob("*.yaml"))


@pytest.fixture(scope="module")
def library() -> list[Checklist]:
    return [load_checklist(path, library=checklists_folder())
            for path in sorted(checklists_folder().glob("*.yaml"))]


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HANDSFREE_DATA", str(tmp_path))
    return tmp_path


def asked(*said: str, title: str = "Old van", enters: int = 200) -> Result:
    """The questions, answered by these lines and then by Enter."""
    return CliRunner().invoke(main, ["rig", "new", title],
                              input="\n".join(said) + "\n" * (enters + 1))


def prompts(done: Result) -> int:
    """Questions about the rig itself, those of how it stands left out."""
    told = done.output.partition("Written:")[0].partition("ready for the road")[0]
    return sum("]: " in line or "Enter when it is right" in line or "know yet): " in line
               for line in told.splitlines())


@pytest.mark.parametrize("kind", range(1, len(KINDS) + 1))
def test_at_most_fifteen_questions_whatever_the_kind(kind: int, data: Path) -> None:
    usual = ("", "65", "80", "7000", "3500", "2540", "800", "60", "90", "120")
    metric = "4.5", "5.2 bar", "1500", "1500", "800", "100", "3", "110", "120 Nm"  # no cord to ask for
    blue = "blue plug" in load_rig(KINDS[kind - 1]).has
    done = asked(str(kind), "", *(metric if blue else usual))
    assert done.exit_code == 0, done.output
    assert 8 <= prompts(done) <= 15, done.output
    made = load_rig(data / "rigs" / "old-van.yaml")
    assert made.has >= load_rig(KINDS[kind - 1]).has - {"two legs"}
    assert made.units == ("metric" if blue else "US")
    assert made.region == "" and "until the file says 'region: US'" in " ".join(done.output.split())
    assert made.limits["tyre psi low"] == pytest.approx(4.5 / 0.0689476 if blue else 65, rel=1e-5)
    assert made.limits["cord watts"] in ((3680,) if blue else (3600, 12000))
    assert not list(data.glob("rigs/*.draft"))


def test_figures_may_be_given_in_any_unit_and_are_refused_in_the_rigs_own(data: Path) -> None:
    blue = next(n for n, path in enumerate(KINDS, 1) if "blue plug" in load_rig(path).has)
    done = asked(str(blue), "", "400 kPa", "12 bar", "4.3", "3300 lb")
    assert "That cannot be 12; it has to be between 1.0342 and 10.3421 (bar)." in done.output
    made = load_rig(data / "rigs" / "old-van.yaml").limits
    assert made["tyre psi low"] == pytest.approx(58.0151, rel=1e-4)
    assert made["gross rating"] == pytest.approx(3300, rel=1e-4)


def test_each_kind_has_what_a_rig_can_have(library: list[Checklist]) -> None:
    traits = {name for one in library for name, fact in one.facts.items()
              if fact.origin is Origin.TRAIT}
    assert len(KINDS) >= 5
    assert NEEDS.keys() | {other for some in NEEDS.values() for other, _ in some} <= traits
    for path in KINDS:
        kind = load_rig(path)
        assert kind.has and kind.has <= traits
        for name, some in NEEDS.items():
            assert name not in kind.has or all(
                (other in kind.has) is wanted for other, wanted in some), (path.stem, name)


def test_what_differs_is_switched_by_its_number_and_takes_what_hangs_on_it(data: Path) -> None:
    first = asked("3")
    rows = [line for line in first.output.splitlines() if "] it has" in line or "] it " in line]
    number = next(line.split()[0] for line in rows if line.endswith("it has two axles"))
    done = asked("3", number, title="Other")
    assert done.exit_code == 0, done.output
    made = load_rig(data / "rigs" / "other.yaml")
    assert made.lacks and {"tandem axle", "wheel brace"} <= made.lacks
    assert "weight bars" in made.has


def test_nothing_is_asked_about_what_it_has_not(data: Path) -> None:
    done = asked("4")
    assert "weight distribution bars" not in done.output.partition("Written")[0]
    assert "sway control bar" not in done.output.partition("Written")[0]


@pytest.mark.parametrize("wrong", ("-5", "0", "1e9", "nan", "many", "500"))
def test_a_figure_that_cannot_be_is_asked_again(wrong: str, data: Path) -> None:
    done = asked("2", "", "30", wrong, "65", "60", "80")
    assert done.exit_code == 0, done.output
    made = load_rig(data / "rigs" / "old-van.yaml")
    assert made.limits["tyre psi low"] == 65 and made.limits["tyre psi high"] == 80
    assert "below the 65" in done.output


def test_figures_that_do_not_go_with_what_is_taken_are_told_at_once(data: Path) -> None:
    done = asked("2", "", "30", "80", "", "85", "", "", "", "", "", "50", "b", "60", "70")
    assert done.exit_code == 0, done.output
    assert "65, which I would take, is below your 80" in done.output
    done = asked("2", "", "30", "", "50", "b", "40", "50", title="Other")
    assert done.exit_code == 0 and "I need the lowest one too" in done.output
    assert load_rig(data / "rigs" / "other.yaml").limits["tyre psi high"] == 50


def test_how_many_is_asked_only_of_what_there_is_and_each_is_named(data: Path) -> None:
    fifth = next(n for n, path in enumerate(KINDS, 1) if "fifth-wheel" in path.name)
    done = asked(str(fifth), "", "50", *[""] * (len(FIGURES) - 1), "slides 2, gray tanks 3",
                 "bed right, left and right", "bed right", "bed right, sofa left",
                 "galley, bath, galley", "galley, bath, wash")
    assert done.exit_code == 0, done.output
    told = done.output
    assert "more than one of these: slides, awnings, black tanks, gray tanks" in told
    assert "'left and right' cannot be a name." in told and "I need 2 names." in told
    assert "'galley' stands twice." in told
    made = load_rig(data / "rigs" / "old-van.yaml")
    assert made.several == {"slides": ("bed right", "sofa left"),
                            "grey tanks": ("galley", "bath", "wash")}
    single = asked("1", title="Other").output.partition("Written")[0]
    assert "more than one of these" not in single


def test_a_motor_home_is_not_asked_what_only_a_trailer_has(data: Path) -> None:
    home = next(n for n, path in enumerate(KINDS, 1) if "motorhome" in path.name)
    told = asked(str(home)).output.partition("Written")[0]
    shown = [line for line in told.splitlines() if "] it" in line or "] you" in line]
    assert any("tow bar" in line for line in shown)
    for words in ("kingpin", "fifth wheel", "safety chains", "brake cable", "weight distribution",
                  "own push", "coupler", "canvas"):
        assert not [line for line in shown if words in line], words


def test_back_asks_the_one_before_again(data: Path) -> None:
    done = asked("3", "b", "1", "", "b", "", "50", "b", "30")
    assert done.exit_code == 0, done.output
    made = load_rig(data / "rigs" / "old-van.yaml")
    assert made.has == load_rig(KINDS[0]).has and made.limits["cord watts"] == 3600


def test_what_was_answered_is_kept_when_one_stops(data: Path) -> None:
    stopped = CliRunner().invoke(main, ["rig", "new", "Old van"], input="4\n\n50\n62\n")
    assert stopped.exit_code == 1 and "goes on" in stopped.output
    assert not (data / "rigs" / "old-van.yaml").exists()
    done = asked()
    assert done.exit_code == 0 and "with 4 answers from before" in done.output
    made = load_rig(data / "rigs" / "old-van.yaml")
    assert {"fifth wheel", "two legs"} <= made.has
    assert made.limits == {"tyre psi low": 62, "cord watts": 12000}


def test_a_draft_that_makes_no_sense_is_begun_anew(data: Path) -> None:
    (data / "rigs").mkdir()
    (data / "rigs" / "old-van.draft").write_text('{"kind": 99, "parts": ["wings"]}')
    assert asked("1").exit_code == 0


def test_what_is_not_known_is_said_and_left_out(data: Path) -> None:
    done = asked("1")
    assert "Not known yet" in done.output and "nut torque low" in done.output
    assert load_rig(data / "rigs" / "old-van.yaml").limits == {"cord watts": 3600}


# --- bounds -------------------------------------------------------------------------------------

def test_every_number_of_the_library_has_bounds_and_a_default_within(
    library: list[Checklist]
) -> None:
    limits = {name: limit for one in library for name, limit in one.limits.items()}
    assert limits.keys() <= BOUNDS.keys(), limits.keys() - BOUNDS.keys()
    assert set(FIGURES) <= limits.keys()
    for name, limit in limits.items():
        assert not out_of_bounds(name, limit.default), name
        assert (limit.default == 0) is (name in MAY_BE_NOUGHT), name


@pytest.mark.parametrize("name", sorted(BOUNDS))
def test_bounds_hold_on_both_sides(name: str) -> None:
    low, high = BOUNDS[name]
    assert low < high and not out_of_bounds(name, low) and not out_of_bounds(name, high)
    assert out_of_bounds(name, low - 0.01) or (low - 0.01 == 0)
    assert out_of_bounds(name, high + 0.01)


@pytest.mark.parametrize("path", sorted((checklists_folder() / "rigs").glob("*.yaml")),
                         ids=lambda path: path.stem)
def test_the_shipped_rigs_are_within(path: Path) -> None:
    assert isinstance(load_rig(path), Rig)


def test_a_rig_file_with_an_outlet_below_nought_names_its_line(tmp_path: Path) -> None:
    path = tmp_path / "rig.yaml"
    path.write_text("name: R\nlimits:\n  volts low: -5\n")
    with pytest.raises(AuthorError, match="line 3: 'volts low' cannot be -5; write a number between"):
        load_rig(path)


# --- how it stands ------------------------------------------------------------------------------

def test_a_danger_is_told_when_it_is_written_down(data: Path) -> None:
    """Whatever is asked of how it stands: neither hitched nor chocked."""
    done = asked("1", *[""] * 12, "yes", *["n"] * 150)
    assert (data / "rigs" / "old-van.yaml").exists(), done.output
    assert "together" in done.output and "chocked" in done.output
    assert done.exit_code == 1 and "DANGER" in done.output, done.output


def test_batteries_are_named_only_where_it_was_said_what_they_are(data: Path) -> None:
    """One question for all of them: names, chemistry and amp hours; the chemistry that was switched on first
    gives way to what the banks are."""
    rows = [line for line in asked("5").output.splitlines() if "] its house battery" in line]
    number = next(line.split()[0] for line in rows if "lithium" in line)
    plain = asked("5", title="Plain").output.partition("Written")[0]
    assert "batteries by name" not in plain and "rig length" in plain
    told = "house lithium 200 Ah, starter agm 80 ah"
    done = asked("5", number, *[""] * (len(FIGURES) + 1), "lead 5", "house lithium 90000 Ah", told, title="Two banks")
    assert done.exit_code == 0, done.output
    assert "Such as: house lithium 200 Ah" in done.output and "cannot be 90000" in done.output
    assert prompts(done) - 3 <= 15, "the list of parts is shown again after a change, and two were answered wrong"
    made = load_rig(data / "rigs" / "two-banks.yaml")
    assert dict(made.banks) == {"house": ("lithium battery", 200.0), "starter": ("sealed battery", 80.0)}
    assert made.limits["battery amp hours"] == 200


def test_its_length_is_asked_and_told_in_its_own_units(data: Path) -> None:
    done = asked("2", "", *[""] * FIGURES.index("rig length"), "24 ft 6")
    assert "A number in digits" in done.output
    done = asked("2", "", "30", *[""] * FIGURES.index("rig length"), "7.5 m", title="Other")
    assert load_rig(data / "rigs" / "other.yaml").limits["rig length"] == pytest.approx(24.606, abs=0.01)
