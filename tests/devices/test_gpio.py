"""A button on a pin, with gpiozero's mock pins in place of a board."""

from collections.abc import Iterator

import pytest

from handsfree.devices import gpio
from handsfree.errors import InputError

gpiozero = pytest.importorskip("gpiozero")
mock = pytest.importorskip("gpiozero.pins.mock")


@pytest.fixture
def pins(monkeypatch: pytest.MonkeyPatch) -> Iterator[object]:
    factory = mock.MockFactory()
    monkeypatch.setattr(gpiozero.Device, "pin_factory", factory)
    monkeypatch.setattr(gpio, "BOUNCE", None)  # the mock's pins do not chatter
    yield factory
    factory.reset()


def test_each_press_counts_once(pins) -> None:  # type: ignore[no-untyped-def]
    button = gpio.GpioButton("GPIO17")
    assert button.presses() == 0
    pin = pins.pin(17)
    for _ in range(2):
        pin.drive_low()
        pin.drive_high()
    assert button.presses() == 2 and button.presses() == 0
    button.close()


def test_it_is_done_in_the_words_of_the_language(pins) -> None:  # type: ignore[no-untyped-def]
    from handsfree.cli.stages import _button
    from handsfree.language.loader import load_language

    with _button("17", load_language("en")) as said:
        pins.pin(17).drive_low()
        assert said() == ["done"] and said() == []


def test_the_light_tells_asleep_awake_and_deaf_apart(  # type: ignore[no-untyped-def]
    pins, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Awake it is steady; asleep it is mostly dark, deaf it is on for half of the time."""
    from handsfree.cli.stages import _light

    blinks: list[tuple[float, float]] = []
    monkeypatch.setattr(gpiozero.LED, "blink", lambda self, on, off: blinks.append((on, off)))
    with _light("GPIO27") as show:
        for state in ("awake", "asleep", "asleep", "deaf", "awake"):
            show(state)
            assert pins.pin(27).state or state != "awake"
    assert [round(on / (on + off), 1) for on, off in blinks] == [0.0, 0.5], "told once each"
    with _light(None) as show:
        show("awake")  # none: nothing to do


@pytest.mark.parametrize("pin", ["GPIO99", "no pin", "-3"])
def test_a_pin_that_is_none_is_one_sentence(pins, pin: str) -> None:  # type: ignore[no-untyped-def]
    for one in (gpio.GpioButton, gpio.GpioLight):
        with pytest.raises(InputError, match="cannot be used"):
            one(pin)
