"""On the screen: what waits for the clock, what only time is left for, and that a note is taken."""


import pytest
from rich.cells import cell_len

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist
from handsfree.engine.advance import advance, begin
from handsfree.engine.state import Confirm, Done, Event, Respond, State
from handsfree.language.loader import language_names, load_language
from handsfree.screen.drawing import LEAST_HEIGHT, LEAST_WIDTH, Sound, Times, draw
from handsfree.screen.labels import load_screen_labels
from handsfree.screen.themes import DAY, NIGHT
from handsfree.screen.view import View, Viewer

LIST = """\
title: Small stay
facts: {wet: it is wet}
steps:
  - {id: joints, do: Feel the joints., gives: wet}
  - {id: again, do: Feel them once more., names: [leak check], waits: {after: joints, minutes: 10}}
  - {id: hubs, do: Feel the hubs., names: [hub check], waits: {after: joints, minutes: 20}}
  - {id: mat, do: Lay the mat out.}
  - {id: chock, do: Chock both wheels., respond: chocks set}
"""
LEFT = [("again", 6.2), ("hubs", 16.2)]


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Checklist:
    path = tmp_path_factory.mktemp("lists") / "small.yaml"
    path.write_text(LIST, encoding="utf-8")
    return load_checklist(path)


def after(checklist: Checklist, *events: Event) -> State:
    state, _ = begin(checklist, checklist.start_facts)
    for event in events:
        state, _ = advance(checklist, state, event)
    return state


def view(checklist: Checklist, state: State, spoken: str = "Words.", code: str = "en",
         noting: bool = False) -> View:
    viewer = Viewer(checklist, "My rig", load_language(code), load_screen_labels(code))
    return viewer.view(state, spoken, LEFT, noting)


def screen(shown: View, width: int, height: int, code: str = "en") -> list[str]:
    rows = draw(shown, Sound(spoken="Words."), Times("16:42", "12:07"), load_screen_labels(code),
                DAY if code == "en" else NIGHT, width, height)
    return [row.plain for row in rows]


def test_at_a_step_what_comes_later_has_a_row(small: Checklist) -> None:
    shown = view(small, after(small, Done()))
    assert shown.waits == "leak check in 7 min · hub check in 17 min" and shown.kind == "step"
    rows = screen(shown, 80, 24)
    assert sum("Later: leak check in 7 min · hub check in 17 min" in row for row in rows) == 1


def test_nothing_draws_the_eye_from_a_hold_point_or_a_readback(small: Checklist) -> None:
    for events in ((Done(), Done()), (Done(), Done(), Respond())):
        assert view(small, after(small, *events)).waits == ""


def test_when_only_time_is_left_it_is_what_stands_in_large_type(small: Checklist) -> None:
    shown = view(small, after(small, Done(), Done(), Respond(), Confirm()))
    assert (shown.kind, shown.banner, shown.text) == ("waiting", "WAITING", "leak check in 7 min")
    assert shown.waits == "hub check in 17 min"
    assert "done" not in shown.commands and "skip this" in shown.commands


def test_a_note_is_told_from_a_step(small: Checklist) -> None:
    shown = view(small, after(small, Done(), Done()), "Note on chock. Go ahead.", noting=True)
    assert shown.banner == "NOTE: SPEAK NOW" and shown.text == "Note on chock. Go ahead."
    assert not shown.answer and not shown.commands and not shown.waits
    rows = screen(shown, 80, 24)
    assert not any("You can say" in row or "chocks set" in row for row in rows)


@pytest.mark.parametrize("code", language_names())
@pytest.mark.parametrize("size", ((LEAST_WIDTH, LEAST_HEIGHT), (80, 24), (132, 43), (200, 60)))
def test_every_size_is_filled_exactly(size: tuple[int, int], code: str, small: Checklist) -> None:
    states = (after(small, Done()), after(small, Done(), Done(), Respond(), Confirm()))
    for state in states:
        for noting in (False, True):
            rows = screen(view(small, state, code=code, noting=noting), *size, code)
            assert len(rows) == size[1] and {cell_len(row) for row in rows} == {size[0]}
