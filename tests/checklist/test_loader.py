"""Every mistake in a file gets one sentence with file, line and mend; nothing is half loaded."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from handsfree.checklist.conditions import Literal
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.errors import AuthorError

GOOD = """\
title: Tiny
facts:
  hitched: {says: the trailer is coupled, start: true}
  chocked: the wheels are chocked
gear:
  hose: {says: the hose is out, count: 2}
limits:
  top pressure: {default: 60, unit: psi}
questions:
  water here: {ask: "Is there water?", says: there is water}
remedies:
  leak:
    says: Close the tap.
    steps:
      - {id: reseat, do: Seat the hose again.}
    gives up: {says: Leave the water off.}
never:
  - id: roll
    when: not hitched and not chocked
    because: It would roll.
    now: Chock it.
    respond: it is chocked
    gives: chocked
steps:
  - ask: water here
  - {id: chock, do: Chock the wheels., respond: chocks set, gives: chocked}
  - {id: pull-away, do: Pull away., needs: [chocked], ends: hitched}
  - {id: hose, do: Connect the hose., only if: water here, puts out: hose, if it fails: leak}
  - {id: gauge, do: Read the gauge., reading: {of: psi, at most: top pressure}}
"""


def write(folder: Path, text: str, name: str = "list.yaml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_response_may_have_several_wordings(tmp_path: Path) -> None:
    text = GOOD.replace("respond: chocks set", "respond: [Chocks set, wheels are chocked]").replace(
        "respond: it is chocked", "respond: [it is chocked, it is held]")
    loaded = load_checklist(write(tmp_path, text))
    assert loaded.steps["chock"].responses == ("chocks set", "wheels are chocked")
    assert loaded.steps["chock"].respond == "chocks set" and loaded.steps["hose"].responses == ()
    assert loaded.rules[0].responses == ("it is chocked", "it is held")


def test_a_good_file_says_what_it_means(tmp_path: Path) -> None:
    loaded = load_checklist(write(tmp_path, GOOD))
    assert loaded.order == ("water here", "chock", "pull-away", "hose", "gauge")
    assert set(loaded.steps) - set(loaded.order) == {"reseat"}
    assert loaded.steps["chock"].hold and not loaded.steps["pull-away"].hold
    assert loaded.steps["hose"].gives == {"hose out"}
    assert loaded.steps["hose"].applicable.names() == {"water here", "water here answered"}
    assert loaded.steps["gauge"].reading and loaded.steps["gauge"].reading.high == 60
    assert loaded.start_facts == {"hitched"}
    assert loaded.facts["hose out"].count == 2


def test_the_rigs_own_limit_stands_above_the_default(tmp_path: Path) -> None:
    rig = load_rig(write(tmp_path, "name: Rig\nlimits: {top pressure: 45}\n", "rig.yaml"))
    loaded = load_checklist(write(tmp_path, GOOD), rig=rig)
    assert loaded.steps["gauge"].reading and loaded.steps["gauge"].reading.high == 45


MISTAKES = [
    ("title: Tiny\n", "", 1, "'title' is missing"),
    ("steps:\n  - ask", "stepps:\n  - ask", 24, "'stepps' is not a key"),
    ("needs: [chocked]", "needs: [choked]", 27, "did you mean 'chocked'"),
    ("gives: chocked}", "gives: chokced}", 26, "'chokced' is not a known fact"),
    ("puts out: hose", "puts out: horse", 28, "'horse' is not known gear"),
    ("id: pull-away", "id: chock", 27, "used a second time"),
    ("do: Pull away.", "doo: Pull away.", 27, "did you mean 'do'"),
    ("{of: psi, at most: top pressure}", "{at most: top pressure}", 29, "'of' is missing"),
    ("{of: psi, at most: top pressure}", "{of: psi}", 29, "no limits"),
    ("at most: top pressure", "at most: top presure", 29, "did you mean 'top pressure'"),
    ("{of: psi, at most: top pressure}", "{of: psi, between: [9, 2]}", 29, "above the highest"),
    ("if it fails: leak", "if it fails: lek", 28, "there is no remedy 'lek'"),
    ("respond: chocks set", "respond: set", 26, "single word"),
    ("respond: chocks set", "respond: [chocks set, set]", 26, "single word"),
    ("respond: chocks set", "respond: []", 26, "there is no response in it"),
    ("respond: it is chocked\n    gives: chocked", "respond: it is chocked", 18, "changes nothing"),
    ("gives: chocked\nsteps", "ends: chocked\nsteps", 18, "still broken"),
    ("- ask: water here", "- ask: water there", 25, "did you mean 'water here'"),
    ("ends: hitched}", "ends: hitched, gives: hitched}", 27, "both given and ended"),
    ("do: Chock the wheels.", "do: ", 26, "text is expected"),
    ("count: 2", "count: two", 6, "not a number"),
    ("  chocked: the wheels are chocked", "  chocked: &a the wheels", 4, "anchors"),
    ("  chocked: the wheels are chocked", "  chocked: !!python/name:os.system x", 4, "tags"),
    ("  chocked: the wheels are chocked", "  chocked: the wheels: are", 4, "not valid YAML"),
    ("  chocked: the wheels are chocked", "  chocked: a\n  chocked: b", 5, "stands here again"),
    ("only if: water here", "only if: water here and", 28, "missing at the end"),
    ("  chocked: the wheels are chocked", "  this or that: x", 4, "grammar"),
]


@pytest.mark.parametrize("good, bad, line, said", MISTAKES)
def test_a_mistake_is_named_with_its_line(
    tmp_path: Path, good: str, bad: str, line: int, said: str
) -> None:
    assert good in GOOD
    path = write(tmp_path, GOOD.replace(good, bad, 1))
    with pytest.raises(AuthorError) as caught:
        load_checklist(path)
    error = caught.value
    assert error.line == line and error.file == str(path)
    assert said in str(error) and "\n" not in str(error) and error.mend


@pytest.mark.parametrize("content", [b"", b"- a\n- b\n", b"\xff\xfe\x00", b"just words", b"{",
                                     b"[" * 5000, b"a: *b", b"\x00"])
def test_what_is_no_checklist_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "list.yaml"
    path.write_bytes(content)
    with pytest.raises(AuthorError) as caught:
        load_checklist(path)
    assert str(path) in str(caught.value)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(AuthorError, match="cannot be read"):
        load_checklist(tmp_path / "none.yaml")


@pytest.mark.parametrize("name", ["../secret.yaml", "/etc/passwd", "a/../../secret.yaml"])
def test_an_include_stays_in_its_folder(tmp_path: Path, name: str) -> None:
    write(tmp_path, "title: x\n", "secret.yaml")
    inner = tmp_path / "inner"
    inner.mkdir()
    path = write(inner, f"include: {name}\n{GOOD}")
    with pytest.raises(AuthorError, match="leaves the folder"):
        load_checklist(path)


def test_a_link_cannot_lead_an_include_out_of_its_folder(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    inner = tmp_path / "inner" / "deep"
    outside.mkdir()
    inner.mkdir(parents=True)
    write(outside, "facts: {leaked: x}\n", "secret.yaml")
    (inner / "link.yaml").symlink_to(outside / "secret.yaml")
    with pytest.raises(AuthorError, match="no file 'link.yaml'"):
        load_checklist(write(inner, f"include: link.yaml\n{GOOD}"))


def test_parts_are_written_once_and_used_by_name(tmp_path: Path) -> None:
    write(tmp_path, "facts: {lit: the lamp is lit}\n"
          "parts:\n  lamp:\n    - {id: light, do: Light the lamp., gives: lit}\n", "shared.yaml")
    loaded = load_checklist(write(tmp_path, "title: T\ninclude: shared.yaml\n"
                                  "steps:\n  - part: lamp\n"))
    assert loaded.order == ("light",) and loaded.steps["light"].gives == {"lit"}


def test_a_part_that_contains_itself_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path, "title: T\nparts:\n  a:\n    - part: a\nsteps:\n  - part: a\n")
    with pytest.raises(AuthorError, match="contains itself"):
        load_checklist(path)


def test_a_slip_in_the_rig_file_is_found(tmp_path: Path) -> None:
    text = GOOD.replace("facts:\n", "traits:\n  slide-out: {says: it has one, ask: Has it}\nfacts:\n")
    rig = load_rig(write(tmp_path, "name: R\nhas:\n  - slide-uot\n", "rig.yaml"))
    with pytest.raises(AuthorError, match="did you mean 'slide-out'") as caught:
        load_checklist(write(tmp_path, text), rig=rig)
    assert caught.value.line == 3


@settings(max_examples=150, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_no_damage_to_a_file_brings_a_traceback(tmp_path: Path, data: st.DataObject) -> None:
    """Cut, doubled or garbled anywhere, a file loads or is refused in one sentence."""
    place = data.draw(st.integers(0, len(GOOD)))
    junk = data.draw(st.text(max_size=12) | st.sampled_from(
        ["\n", ": ", "- ", "{", "}", "[", "&x ", "*x", "!!", "'", '"', "|", "\t", "%", "@"]))
    drop = data.draw(st.integers(0, 30))
    path = write(tmp_path, GOOD[:place] + junk + GOOD[place + drop:])
    try:
        load_checklist(path)
    except AuthorError as error:
        assert "\n" not in str(error)


def test_a_step_needs_an_answer_before_it_exists(tmp_path: Path) -> None:
    loaded = load_checklist(write(tmp_path, GOOD))
    applicable = loaded.steps["hose"].applicable
    assert not applicable.holds({"water here"})
    assert applicable.holds({"water here", "water here answered"})
    assert Literal("water here answered") in applicable.missing(frozenset())


def test_a_rig_is_frozen() -> None:
    with pytest.raises(AttributeError):
        Rig("x").name = "y"  # type: ignore[misc]


def test_a_file_that_was_changed_is_read_again_and_one_that_was_not_is_not(tmp_path: Path) -> None:
    """Its own text, what it includes, and a file put where it is looked for first."""
    library, own = tmp_path / "library", tmp_path / "own"
    library.mkdir()
    own.mkdir()
    (library / "part.yaml").write_text("facts: {dry: it is dry}\n")
    path = own / "list.yaml"
    path.write_text("title: One\ninclude: part.yaml\nsteps:\n  - {id: look, do: Look., gives: dry}\n")

    def load() -> Checklist:
        return load_checklist(path, library=library)

    first = load()
    assert load() is first
    (library / "part.yaml").write_text("facts: {dry: it is not wet}\n")
    assert load().facts["dry"].says == "it is not wet"
    (own / "part.yaml").write_text("facts: {dry: it is ours}\n")
    assert load().facts["dry"].says == "it is ours"
    path.write_text(path.read_text().replace("One", "Two"))
    assert load().title == "Two"
    (own / "part.yaml").unlink()
    assert load().facts["dry"].says == "it is not wet"
    path.unlink()
    with pytest.raises(AuthorError):
        load()
