"""What stands on a rig's paper: its own steps and no other, and nothing of what protects."""

from dataclasses import replace
from pathlib import Path

import pytest

from handsfree.checklist.conditions import ALWAYS, NEVER, Literal, conjuncts, parse
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.checklist.rig_file import load_rig
from handsfree.errors import AuthorError, InputError
from handsfree.language.loader import language_names, load_language
from handsfree.paper.conditions import Joining, OneRig, for_rig, in_words, one_rig
from handsfree.paper.sheet import Line, Sheet, make_sheet
from handsfree.paper.words import load_paper_words
from handsfree.session.wording import Wording, sentence
from handsfree.storage.paths import checklists_folder, find_checklist, find_rig

LIST = """\
title: Small stay
traits:
  brake cable: {says: it has a brake cable, ask: "Has it a brake cable?"}
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are loose}
  cable on: {says: the cable is on, otherwise: the cable is off, start: true}
  fit: the rig is fit
gear:
  hose: {says: the hose is out, count: 3}
limits:
  volts low: {default: 108, unit: volts}
never:
  - {id: roll, when: not hitched and (not chocked or hose out), because: it would roll,
     now: Keep clear, respond: wheels are held, gives: chocked, ends: hose out}
  - {id: loose, when: not hitched and cable on, because: the cable would tear, now: Stop,
     respond: cable is free, ends: cable on}
questions:
  water here: {ask: "Is there water?", says: there is water, otherwise: there is none}
remedies:
  bad outlet:
    says: That outlet is bad.
    steps:
      - {id: other outlet, do: Move to the other outlet.}
    gives up: {says: Stop. Do not connect.}
steps:
  - ask: water here
  - {id: chock, do: Chock both wheels, respond: chocks set, gives: chocked}
  - {id: cable, do: Cable off, only if: brake cable, needs: chocked, ends: cable on}
  - {id: look, do: Look round, needs: chocked, gives: fit}
  - {id: pull away, do: Pull away, ends: hitched, respond: truck is away, caution: Nobody between,
     needs: [chocked, not cable on or not brake cable]}
  - {id: volts, do: Read the volts, reading: {of: volts, between: [volts low, 127.5]},
     if it fails: bad outlet}
  - {id: amps, do: Read the amps, reading: {of: amps, at most: 30}, if it fails: bad outlet}
  - {id: hose, do: Connect the hose, only if: water here, puts out: hose, detail: By hand}
"""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("paper") / "small.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


def sheet_of(checklist: Checklist, *has: str) -> Sheet:
    rig = one_rig(frozenset(has), [checklist])
    return make_sheet(checklist, "Test rig", rig, load_language("en"), load_paper_words("en"))


def line(sheet: Sheet, do: str) -> Line:
    return next(found for found in sheet.lines if found.do == do)


def test_only_the_rigs_own_steps_are_printed(small: Checklist) -> None:
    without, with_cable = sheet_of(small), sheet_of(small, "brake cable")
    assert "Cable off." not in [found.do for found in without.lines]
    assert "Cable off." in [found.do for found in with_cable.lines]
    assert [found.number for found in without.lines] == list("1234567")


def test_a_hold_point_prints_what_no_box_above_shows_and_its_caution(small: Checklist) -> None:
    """The boxes above show the rest: with all of it at each line a list had sixteen pages."""
    plain, cabled = sheet_of(small), sheet_of(small, "brake cable")
    assert line(plain, "Pull away.").first == line(cabled, "Pull away.").first == ""
    later = replace(small, order=tuple(name for name in small.order if name not in ("chock", "cable")))
    assert line(sheet_of(later, "brake cable"), "Pull away.").first == "First: the cable is off."
    assert line(sheet_of(later, "brake cable"), "Look round.").first == "First: the wheels are chocked."
    assert line(plain, "Pull away.").caution == "CAUTION: Nobody between."
    assert line(plain, "Pull away.").respond == "truck is away"


def test_what_a_line_has_undone_is_said_again(small: Checklist) -> None:
    steps = dict(small.steps)
    steps["volts"] = replace(steps["volts"], ends=frozenset({"chocked"}))
    steps["amps"] = replace(steps["amps"], needs=Literal("chocked"))
    undone = replace(small, steps=steps)
    assert line(sheet_of(undone), "Read the amps.").first == "First: the wheels are chocked."


@pytest.mark.parametrize("rig", ["fifth-wheel", "tandem-slide"])
@pytest.mark.parametrize("name", ["arrive", "depart", "hitch-up", "storm"])
def test_whatever_a_step_needs_is_ticked_or_written_above_it(name: str, rig: str) -> None:
    """Read from the paper alone: what it has shown or said so far, and not undone since."""
    loaded = load_rig(find_rig(rig))
    checklist = load_checklist(find_checklist(name), rig=loaded, library=checklists_folder())
    one = one_rig(loaded.has, [checklist])
    sheet = make_sheet(checklist, rig, one, load_language("en"), load_paper_words("en"))
    steps = [checklist.steps[step] for step in checklist.order
             if for_rig(checklist.steps[step].applicable, checklist, one) != NEVER]
    assert [sentence(step.do) for step in steps] == [found.do for found in sheet.lines]
    so, said = set[Literal](), set[str]()
    wording, told = Wording(checklist, load_language("en")), 0
    for step, found in zip(steps, sheet.lines, strict=True):
        said |= set(found.first.removeprefix("First: ").removesuffix(".").split("; "))
        for part in conjuncts(for_rig(step.needs, checklist, one)):
            if isinstance(part, Literal):
                assert part in so or wording.clause(part) in said, (step.id, part)
                told += 1
        changed = step.gives | step.ends | step.voids
        so = {literal for literal in so if literal.fact not in changed} | step.outcome
        said -= {wording.clause(Literal(fact, way)) for fact in changed for way in (True, False)}
    assert told


def test_limits_are_the_numbers_of_the_reading(small: Checklist) -> None:
    sheet = sheet_of(small)
    assert line(sheet, "Read the volts.").limits == "108 to 127.5 volts"
    assert line(sheet, "Read the amps.").limits == "at most 30 amps"


def test_a_condition_of_the_spot_stands_before_the_step(small: Checklist) -> None:
    assert line(sheet_of(small), "Connect the hose.").only_if == "If there is water:"
    assert line(sheet_of(small), "Is there water?").question


def test_a_remedy_is_printed_once_and_referred_to_afterwards(small: Checklist) -> None:
    sheet = sheet_of(small)
    first, second = line(sheet, "Read the volts.").fix, line(sheet, "Read the amps.").fix
    assert first and second
    assert [inner.number for inner in first.steps] == ["5.1"]
    assert first.gives_up == "If it has failed 2 times: Stop. Do not connect."
    assert second.as_at == "If it fails: as at 5."


def test_never_rules_are_those_that_this_rig_can_break(small: Checklist) -> None:
    # Without a brake cable its fact stays as it starts, so what hangs on it cannot be mended.
    assert [rule.when for rule in sheet_of(small, "brake cable").nevers] == [
        ("Never: the trailer is free and any of these: the wheels are loose or the hose is out."
         " It would roll."),
        "Never: the trailer is free and the cable is on. The cable would tear."]
    assert sheet_of(small).nevers[0].now == "If it happens anyway: Keep clear."


def test_gear_is_listed_with_its_pieces(small: Checklist) -> None:
    assert [(thing.says, thing.count) for thing in sheet_of(small).gear] == [("the hose is out", 3)]


@pytest.mark.parametrize(("text", "has", "wanted"), [
    ("brake cable", ["brake cable"], ALWAYS),
    ("brake cable", [], NEVER),
    ("not brake cable and hitched", [], Literal("hitched")),
    ("brake cable or hitched", [], Literal("hitched")),
    ("brake cable or hitched", ["brake cable"], ALWAYS),
    ("brake cable and hitched", [], NEVER),
    ("water here answered and chocked", [], Literal("chocked")),
])
def test_the_rig_settles_conditions(
    small: Checklist, text: str, has: list[str], wanted: object
) -> None:
    changes = frozenset((fact, so) for fact in small.facts for so in (True, False))
    assert for_rig(parse(text), small, OneRig(frozenset(has), changes)) == wanted


def test_alternatives_are_told_apart_from_what_must_hold() -> None:
    joining = Joining("{one} and {other}", "{one} or {other}", "any of these: {facts}")
    words = in_words(parse("(a or b) and c"), str, joining)
    assert words == "c and any of these: a or b"


@pytest.mark.parametrize("rig", ["fifth-wheel", "small-single"])
def test_every_step_that_a_rehearsed_stay_offers_is_on_the_paper(rig: str) -> None:
    """What the engine can offer this rig, walking on with everything right, is printed."""
    from handsfree.rehearsal.script import Script
    from handsfree.testing import talk

    loaded = load_rig(find_rig(rig))
    lists = {name: load_checklist(find_checklist(name), rig=loaded, library=checklists_folder())
             for name in ("arrive", "depart")}
    one = one_rig(loaded.has, lists.values())
    english = load_language("en")
    record: frozenset[str] | None = None
    for checklist in lists.values():
        sheet = make_sheet(checklist, rig, one, english, load_paper_words("en"))
        printed = {found.do for found in sheet.lines}
        answers = {step.id: True for step in checklist.steps.values() if step.question}
        answers["stay hitched"] = False
        told = talk(checklist, english, Script(answers=answers),
                    record=(checklist.start_facts if record is None else record) | loaded.has)
        record = told.conversation.state.facts
        offered = [prompt.about for prompt in told.prompts if prompt.key == "offer"]
        assert len(offered) > 30
        for step in offered:
            if step in checklist.order:
                assert sentence(checklist.steps[step].do) in printed, step


@pytest.mark.parametrize("code", language_names())
def test_every_language_has_the_words_of_the_paper(code: str) -> None:
    words = load_paper_words(code)
    assert words.number(12.25) == f"12{words.words['decimal']}25"


def test_a_language_without_paper_says_which_file_is_missing() -> None:
    with pytest.raises(InputError, match=r"xx\.paper\.yaml"):
        load_paper_words("xx")


@pytest.mark.parametrize(("old", "new", "said"), [
    ('  page: "page {page} of {pages}"', '  page: "page {page}"', "does not have the right fields"),
    ("  place: Place", "  plaice: Place", r"'plaice' is not known .*'place'"),
    ('  only if: "If {facts}:"', '  only if: "If {facts:"', "brace"),
])
def test_mistakes_in_the_words_are_named_with_their_line(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    from handsfree.paper import words

    text = (Path(words.__file__).parents[1] / "languages" / "en.paper.yaml").read_text("utf-8")
    assert old in text
    path = tmp_path / "xx.paper.yaml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(AuthorError, match=said) as raised:
        load_paper_words("xx", path)
    assert raised.value.line == text[:text.index(old)].count("\n") + 1


def test_an_unknown_font_is_named(tmp_path: Path) -> None:
    from handsfree.paper import words

    text = (Path(words.__file__).parents[1] / "languages" / "en.paper.yaml").read_text("utf-8")
    path = tmp_path / "xx.paper.yaml"
    path.write_text(text.replace("font: latin", "font: wavy"), encoding="utf-8")
    with pytest.raises(AuthorError, match="'wavy' is not known"):
        load_paper_words("xx", path)
