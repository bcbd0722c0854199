"""Keys stand for utterances; a hold point's response cannot be a single key."""

from handsfree.devices.keyboard import Keyboard


def pressed(keys: str) -> list[str]:
    keyboard = Keyboard({" ": "done", "s": "skip this"})
    return [said for key in keys if (said := keyboard.press(key)) is not None]


def test_single_keys_are_commands() -> None:
    assert pressed(" sSq") == ["done", "skip this", "skip this"]


def test_digits_start_a_typed_reading() -> None:
    assert pressed("118 V\x7fvolts\n ") == ["118 volts", "done"]
    assert pressed("-2\n") == ["-2"]


def test_words_are_typed_after_a_colon() -> None:
    assert pressed(":chocks set\r") == ["chocks set"]


def test_escape_silences_and_drops_what_was_typed() -> None:
    assert pressed("\x1b") == [""]
    assert pressed(":cho\x1b ") == ["done"]
