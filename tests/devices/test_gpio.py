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


@pytest.mark.parametrize("pin", ["GPIO99", "no pin", "-3"])
def test_a_pin_that_is_none_is_one_sentence(pins, pin: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError, match="cannot be used"):
        gpio.GpioButton(pin)
