"""The drawn screen: every size exactly filled, everything in words, day and night."""

from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len
from rich.console import Console

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import (
    Confirm,
    Correct,
    Done,
    Event,
    GoTo,
    Pause,
    Read,
    Respond,
    Skip,
    State,
)
from handsfree.language.loader import language_names, load_language
from handsfree.screen.drawing import LEAST_HEIGHT, LEAST_WIDTH, Sound, Times, draw
from handsfree.screen.labels import load_screen_labels
from handsfree.screen.screen import suits
from handsfree.screen.themes import DAY, NIGHT, Theme
from handsfree.screen.view import Viewer

LIST = """\
title: Small stay
traits:
  mast: {says: it has a mast, ask: "Has it a mast?"}
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer is free, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are loose}
  mast up: {says: the mast is up, otherwise: the mast is down}
  walked: {says: you walked round, otherwise: nobody walked round}
never:
  - {id: roll, when: not hitched and not chocked, because: it would roll, now: Keep well clear.,
     respond: wheels are held, gives: chocked}
  - {id: mast, when: mast up and hitched, because: it would break, now: Mast down.,
     respond: mast is down, ends: mast up}
steps:
  - {id: walk, do: Walk round the spot., gives: walked, place: rear}
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: chocked, place: wheels,
     caution: Mind the downhill side.}
  - {id: volts, do: Read the volts., reading: {of: volts, between: [108, 127]}, place: pedestal}
  - {id: away, do: Pull away., needs: [chocked, walked], ends: hitched}
  - {id: raise, do: Raise the mast., only if: mast and not hitched, gives: mast up}
"""
SOUND = Sound(level_dbfs=-24, floor_dbfs=-50, spoken="Walk round the spot.", heard="done",
              heard_as="certain", confidence=0.97)
TIMES = Times("16:42", "12:07")


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("screen") / "small.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


def viewer(checklist: Checklist, code: str = "en", *has: str) -> Viewer:
    return Viewer(checklist, "Test rig", load_language(code), load_screen_labels(code), has)


def after(checklist: Checklist, *events: Event) -> State:
    state, _ = begin(checklist, checklist.start_facts)
    for event in events:
        state, _ = advance(checklist, state, event)
    return state


def screen(
    checklist: Checklist, state: State, spoken: str = "", width: int = 80, height: int = 24,
    theme: Theme = DAY, sound: Sound = SOUND,
) -> str:
    rows = draw(viewer(checklist).view(state, spoken), replace(sound, spoken=spoken), TIMES,
                load_screen_labels("en"), theme, width, height)
    assert len(rows) == height
    assert {row.cell_len for row in rows} == {width}
    return "\n".join(row.plain for row in rows)


@pytest.mark.parametrize(("width", "height", "theme"), [
    (LEAST_WIDTH, LEAST_HEIGHT, NIGHT), (80, 24, DAY), (132, 43, NIGHT), (200, 60, DAY)])
def test_every_size_is_filled_exactly(
    small: Checklist, width: int, height: int, theme: Theme
) -> None:
    for events in ((), (Done(),), (Done(), Respond()), (Done(), Pause()), (GoTo("volts"),)):
        screen(small, after(small, *events), "Walk round. " * 30, width, height, theme)


def test_a_hold_point_shows_its_answer_caution_and_place(small: Checklist) -> None:
    shown = screen(small, after(small, Done()))
    lines = shown.splitlines()
    assert lines[1].split() == ["HOLD", "POINT", "WHEELS"]
    assert lines[2].strip() == "CAUTION: Mind the downhill side."
    assert " Answer: chocks set" in shown
    assert "You can say: say again · skip this" in shown and "· done" not in shown
    assert "1 done, 3 open" in lines[0] and "12:07 · 16:42" in lines[0]


def test_facts_stand_in_words_and_what_is_in_the_way_is_marked(small: Checklist) -> None:
    shown = screen(small, after(small))
    assert "+ the trailer is coupled" in shown and "- the wheels are loose" in shown
    state = after(small, Done(), Skip(), GoTo("volts"), Read("within"), Confirm())
    blocked = replace(state, at="away")
    assert "! the wheels are loose" in screen(small, blocked)
    assert "+ the wheels are chocked" in screen(small, after(small, Done(), Respond(), Confirm()))


def test_facts_of_gear_that_this_rig_lacks_are_no_news(small: Checklist) -> None:
    state = after(small)
    assert not any("mast" in fact.words for fact in viewer(small).view(state, "").facts)
    assert any("mast" in fact.words for fact in viewer(small, "en", "mast").view(state, "").facts)


def test_a_reading_shows_its_limits(small: Checklist) -> None:
    assert "READING  108 to 127 volts" in screen(small, after(small, GoTo("volts")))


def test_a_readback_is_shown_with_its_two_answers(small: Checklist) -> None:
    shown = screen(small, after(small, Done(), Respond()), "Chocks set. Is that right?")
    assert "IS THAT RIGHT?" in shown.splitlines()[1]
    assert "You can say: that is right · no change it" in shown


def test_danger_fills_the_screen_with_what_to_do_at_once(small: Checklist) -> None:
    state = after(small, Done(), Respond(), Confirm(), GoTo("away"), Done(),
                  Correct("chocked", False))
    shown = screen(small, state, "Danger!")
    assert "DANGER" in shown.splitlines()[1]
    assert viewer(small).view(state, "Danger!").text == "Keep well clear."
    assert "Answer: wheels are held" in shown


def test_what_was_heard_has_its_confidence_in_numbers_and_words(small: Checklist) -> None:
    state = after(small)
    assert "Heard: done   0.97 certain" in screen(small, state)
    doubt = replace(SOUND, heard="chocks set", heard_as="unsure", confidence=0.6)
    assert "Heard: chocks set   0.60 not certain, asked again" in screen(
        small, state, sound=doubt)
    assert "Heard: nothing yet" in screen(small, state, sound=Sound())


def test_what_is_typed_is_seen(small: Checklist) -> None:
    shown = screen(small, after(small), sound=replace(SOUND, typing="118"))
    assert "Typing: 118_" in shown and "Heard:" not in shown


def test_the_microphone_is_shown_in_words_and_as_a_bar(small: Checklist) -> None:
    state = after(small)
    last = screen(small, state).splitlines()[-1]
    assert "LISTENING" in last and "-24 dB good" in last and "noise -50 dB" in last
    assert "SPEAKING" in screen(small, state, sound=replace(SOUND, speaking=True))
    assert "HEARING YOU" in screen(small, state, sound=replace(SOUND, hearing=True))
    loud = screen(small, state, sound=replace(SOUND, level_dbfs=-3)).splitlines()[-1]
    assert "too loud" in loud and loud.count("#") > last.count("#")


def test_without_colours_nothing_is_lost(small: Checklist, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = draw(viewer(small).view(after(small, Done()), ""), SOUND, TIMES,
                load_screen_labels("en"), DAY, 80, 24)

    def printed(**options: object) -> str:
        from io import StringIO

        console = Console(file=StringIO(), force_terminal=True, width=80, highlight=False,
                          **options)  # type: ignore[arg-type]
        for row in rows:
            console.print(row)
        return str(console.file.getvalue())  # type: ignore[attr-defined]

    coloured = printed(color_system="truecolor")
    assert "38;2;" in coloured
    monkeypatch.setenv("NO_COLOR", "1")
    plain = printed(color_system="truecolor")
    assert "38;" not in plain and "48;" not in plain
    assert "HOLD POINT" in plain and "CAUTION" in plain and "Answer: chocks set" in plain


@pytest.mark.parametrize("code", language_names())
def test_every_language_has_the_words_of_the_screen(small: Checklist, code: str) -> None:
    labels = load_screen_labels(code)
    rows = draw(viewer(small, code).view(after(small, Done()), ""), SOUND, TIMES, labels, DAY,
                80, 24)
    assert all(row.cell_len == 80 for row in rows)
    assert any(labels("hold") in row.plain for row in rows)
    assert cell_len(labels("listening")) <= 12


@pytest.mark.parametrize(("size", "encoding", "term", "fits"), [
    ((80, 24), "utf-8", "xterm-256color", True), ((60, 20), "UTF8", "screen", True),
    ((59, 24), "utf-8", "xterm", False), ((80, 19), "utf-8", "xterm", False),
    ((80, 24), "ascii", "xterm", False), ((80, 24), "utf-8", "dumb", False)])
def test_a_terminal_that_cannot_show_it_gets_plain_lines(
    size: tuple[int, int], encoding: str, term: str, fits: bool, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("TERM", term)
    with open(tmp_path / "out", "w", encoding=encoding) as file:
        console = Console(file=file, width=size[0], height=size[1], force_terminal=True)
        assert suits(console) is fits
        assert not suits(Console(file=file, width=80, height=24, force_terminal=False))
