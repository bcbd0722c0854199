"""Keys stand for utterances; a hold point's response cannot be a single key; buttons and pedals."""

import pytest

from handsfree.devices.keyboard import Keyboard
from handsfree.devices.keys import Key, keys_in


class Told:
    """A talk button's ear."""

    def __init__(self) -> None:
        self.news: list[str] = []

    def pressed(self, tells: bool) -> None:
        self.news.append("held" if tells else "pressed")

    def released(self) -> None:
        self.news.append("released")


def board(told: Told | None = None, *talking: str) -> Keyboard:
    return Keyboard({" ": "done", "s": "skip this", "pagedown": "done", "?": "where are we"},
                    told, frozenset(talking))


def pressed(*sent: str) -> list[str]:
    keyboard = board()
    return [said for piece in sent for said in keyboard.receive(piece)]


def test_single_keys_are_commands() -> None:
    assert pressed(" sSq") == ["done", "skip this", "skip this"]


def test_digits_start_a_typed_reading() -> None:
    assert pressed("118 V\x7fvolts\n ") == ["118 volts", "done"]
    assert pressed("-2\n") == ["-2"]


def test_words_are_typed_after_a_colon() -> None:
    assert pressed(":chocks set\r") == ["chocks set"]


def test_escape_silences_and_drops_what_was_typed() -> None:
    assert pressed("\x1b", "") == [""]
    assert pressed(":cho\x1b", "", " ") == ["done"]


def test_a_pedal_that_sends_page_down_is_done_even_in_two_pieces() -> None:
    assert pressed("\x1b[6~") == ["done"]
    assert pressed("\x1b", "[6~") == ["done"] and pressed("\x1b[6", "~ ") == ["done", "done"]


def test_keys_without_a_use_do_nothing_and_type_nothing() -> None:
    """An arrow key used to stop the talking and to type its own sequence."""
    for sequence in ("\x1b[A", "\x1bOB", "\x1b[15~", "\x1b[1;5C", "\x1b[200~", "\x1b[?25h"):
        assert pressed(sequence, "", " ") == ["done"], sequence


@pytest.mark.parametrize(("sent", "key"), (
    ("\x1b[6~", Key("pagedown")), ("\x1bOP", Key("f1")), ("\x1b[20~", Key("f9")),
    ("\x1b[D", Key("left")), ("\x1b[1;2H", Key("home")), ("\t", Key("tab", "\t")),
    # The CSI u protocol: number, modifiers and event (1 down, 2 repeat, 3 up), text.
    ("\x1b[97;1:1;97u", Key("a", "a", tells=True)),
    ("\x1b[97;1:3u", Key("a", "", up=True, tells=True)),
    ("\x1b[97;2:1;65u", Key("a", "A", tells=True)),
    ("\x1b[59;2:1;58u", Key(";", ":", tells=True)),
    ("\x1b[6;1:3~", Key("pagedown", "", up=True, tells=True)),
    ("\x1b[1;1:1P", Key("f1", tells=True)),
    ("\x1b[13u", Key("enter", "\n", tells=True)),
    ("\x1b[57430;1:1u", Key("media-play-pause", tells=True)),
    ("\x1b[57388u", Key("f25", tells=True)),
))
def test_sequences_are_keys(sent: str, key: Key) -> None:
    assert keys_in(sent) == ([key], "")


@pytest.mark.parametrize("sent", ("\x1b[u", "\x1b[;u", "\x1b[99999999999u", "\x1b[1;99:9;x~",
                                  "\x1b[<0;1;1M", "\x1b]0;title\x07", "\x1b[1;1:u", "\x1bOO"))
def test_no_sequence_is_too_odd(sent: str) -> None:
    keys, rest = keys_in(sent)
    assert all(isinstance(key, Key) for key in keys) and len(rest) <= len(sent)


def test_typing_works_in_both_protocols() -> None:
    sent = "".join(f"\x1b[{ord(c)};1:1;{ord(c)}u\x1b[{ord(c)};1:3u" for c in "118")
    assert pressed(sent + "\x1b[13;1:1u\x1b[13;1:3u") == ["118"]
    assert pressed("\x1b[32;1:1;32u\x1b[32;1:3u") == ["done"]
    assert pressed("\x1b[47;2:1;63u") == ["where are we"]
    assert pressed("\x1b[27;1:1u") == [""]


def test_a_talk_button_is_told_and_says_nothing() -> None:
    told = Told()
    keyboard = board(told, "f9")
    assert keyboard.receive("\x1b[20~") == [] and told.news == ["pressed"]
    assert keyboard.receive("\x1b[20;1:1~\x1b[20;1:2~\x1b[20;1:3~") == []
    assert told.news == ["pressed", "held", "held", "released"]


def test_while_words_are_typed_a_letter_is_a_letter() -> None:
    told = Told()
    keyboard = board(told, "b")
    assert keyboard.receive(":ab\n") == ["ab"] and told.news == []
    assert keyboard.receive("b") == [] and told.news == ["pressed"]
