"""Large type: as large as fits, never wider or higher than it may be, readable in every script."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from handsfree.language.loader import language_names, load_language
from handsfree.screen.large import large

CHOCK = "Chock the wheels firmly, on both sides."


def test_a_challenge_fits_the_smallest_screen_and_grows_with_it() -> None:
    assert 4 <= len(large(CHOCK, 78, 13)) <= 13
    assert len(large(CHOCK, 118, 26)) > len(large(CHOCK, 78, 13))
    sizes = [len(large("Hold", 158, room)) for room in range(4, 14)]
    assert sizes == sorted(sizes) and len(set(sizes)) == 3, "larger letters in more room"


def test_it_gives_up_where_nothing_fits() -> None:
    assert large(CHOCK, 78, 3) == () and large(CHOCK, 20, 10) == () and large("", 80, 20) == ()


@settings(deadline=None, max_examples=60)
@given(st.text(alphabet="abcdefghij ÄÖÜäöüß°é.,?!'’–½가나다라", max_size=60),
       st.integers(10, 200), st.integers(0, 40))
def test_it_never_leaves_its_room(text: str, width: int, height: int) -> None:
    rows = large(text, width, height)
    assert len(rows) <= height
    assert all(cell_len(row) <= width for row in rows)


def test_what_differs_in_reading_differs_in_drawing() -> None:
    assert large("118 volts", 78, 10) != large("113 volts", 78, 10)
    assert large("물을 여세요", 78, 13) != large("불을 여세요", 78, 13)
    assert large("don’t", 78, 10) == large("don't", 78, 10)


@pytest.mark.parametrize("code", language_names())
def test_every_languages_answers_can_be_shown_large(code: str) -> None:
    for command in ("done", "confirm", "deny", "pause", "take_back"):
        assert large(load_language(code).commands[command][0], 78, 13), command
