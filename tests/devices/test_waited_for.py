"""A microphone that comes after the program, or is unplugged and comes back."""

from collections.abc import Callable

import pytest

from handsfree.audio import FRAME, silence
from handsfree.cli import stations
from handsfree.cli.stages import NoEar
from handsfree.cli.stations import waited_for
from handsfree.devices import sound_card
from handsfree.errors import DeviceError
from handsfree.session.failover import FailoverMicrophone, FailoverSpeaker
from handsfree.session.fault_reports import FaultReports
from handsfree.testing import ManualClock


class Card:
    """What is plugged in, and what the sound library knows of it."""

    def __init__(self) -> None:
        self.plugged, self.known = {"loudspeaker"}, {"loudspeaker"}
        self.open: list[str] = []
        self.looked = 0

    def look(self) -> None:
        assert self.open == [], "streams were open while devices were looked for"
        self.known, self.looked = set(self.plugged), self.looked + 1

    def opened(self, name: str) -> Callable[[], "Stream"]:
        def make() -> Stream:
            if name not in self.known & self.plugged:  # a known one that has gone does not open
                raise DeviceError(f"no device is called {name}; choose another.")
            return Stream(self, name)

        return make


class Stream:
    overflowed = False
    playing = False

    def __init__(self, card: Card, name: str) -> None:
        self.card, self.name = card, name
        card.open.append(name)

    def read(self):  # type: ignore[no-untyped-def]
        if self.name not in self.card.plugged:
            raise DeviceError("the microphone gives no more sound; plug it in again.")
        return silence(FRAME / 16000) + 1

    def play(self, samples: object) -> None: ...

    def stop(self) -> None: ...

    def close(self) -> None:
        if self.name in self.card.open:
            self.card.open.remove(self.name)


@pytest.fixture
def parts():  # type: ignore[no-untyped-def]
    card, clock = Card(), ManualClock()
    troubles = FaultReports(clock)
    out = FailoverSpeaker(card.opened("loudspeaker"), troubles)  # type: ignore[arg-type]
    ear = FailoverMicrophone(
        waited_for(card.opened("headset"), out, card.look),  # type: ignore[arg-type]
        troubles, sleep=clock.sleep)
    return card, clock, troubles, out, ear


def turn(seconds: float, clock: ManualClock, troubles: FaultReports, ear: FailoverMicrophone) -> None:
    until = clock.t + seconds
    while clock.t < until:
        before = clock.t
        ear.read()
        troubles.mend()
        clock.t = max(clock.t, before + 0.02)


def test_it_is_found_when_it_comes_and_again_when_it_comes_back(parts) -> None:  # type: ignore[no-untyped-def]
    card, clock, troubles, _, ear = parts
    turn(100, clock, troubles, ear)
    assert not ear.there and "microphone" in troubles and card.open == ["loudspeaker"]
    assert card.looked < 15  # seldomer and seldomer
    for _ in range(3):
        card.plugged.add("headset")
        turn(35, clock, troubles, ear)
        assert ear.there and "microphone" not in troubles
        assert sorted(card.open) == ["headset", "loudspeaker"]
        card.plugged.remove("headset")
        turn(35, clock, troubles, ear)
        assert not ear.there


def test_no_prompt_is_cut_off_for_it(parts, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    card, clock, troubles, _, ear = parts
    looked = card.looked
    monkeypatch.setattr(Stream, "playing", True)
    turn(35, clock, troubles, ear)
    assert card.looked == looked


def test_a_loudspeaker_that_goes_with_it_comes_back_with_it(parts) -> None:  # type: ignore[no-untyped-def]
    card, clock, troubles, _, ear = parts
    card.plugged.clear()
    turn(35, clock, troubles, ear)
    assert "speaker" in troubles and "microphone" in troubles
    card.plugged |= {"headset", "loudspeaker"}
    turn(70, clock, troubles, ear)
    assert "speaker" not in troubles and "microphone" not in troubles


def test_the_sound_library_is_begun_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []

    class Fake:
        def _terminate(self) -> None:
            calls.append("terminate")

        def _initialize(self) -> None:
            calls.append("initialize")

    monkeypatch.setattr(sound_card, "_portaudio", Fake)
    sound_card.look_again()
    assert calls == ["terminate", "initialize"]


def test_a_loudspeaker_that_rests_is_opened_to_speak(parts) -> None:  # type: ignore[no-untyped-def]
    card, clock, troubles, out, ear = parts
    out.rest()
    assert card.open == [] and out.resting and not out.playing
    card.plugged.add("headset")
    turn(35, clock, troubles, ear)
    assert card.open == ["headset"]  # looking for it did not wake the other
    out.play(silence(0.1))
    assert "loudspeaker" in card.open and not out.resting and "speaker" not in troubles
    out.rest()
    card.plugged.remove("loudspeaker")
    out.play(silence(0.1))
    assert "speaker" in troubles


def test_a_run_adopts_a_headset_that_comes_after_it_began(monkeypatch: pytest.MonkeyPatch) -> None:
    """`handsfree run` on a box whose headset is switched on later, without a name for it."""
    card, clock = Card(), ManualClock()
    monkeypatch.setattr(stations, "SoundCardMicrophone", lambda name: card.opened("headset")())
    monkeypatch.setattr(stations, "SoundCardSpeaker", lambda name: card.opened("loudspeaker")())
    monkeypatch.setattr(stations, "look_again", card.look)
    with stations.standing(("",), {}, {}, NoEar, clock) as stood:
        station = stood[""]
        station.ear._sleep = clock.sleep
        turn(20, clock, station.troubles, station.ear)
        assert not station.ear.there
        card.plugged.add("headset")
        turn(35, clock, station.troubles, station.ear)
        assert station.ear.there and "microphone" not in station.troubles


def test_a_named_one_is_waited_for_and_no_other_taken_before_it_came(
    capsys: pytest.CaptureFixture[str]
) -> None:
    card = Card()
    card.known = card.plugged = {"loudspeaker", "built in"}

    def make(name: str | None) -> Stream:
        return card.opened(name or "built in")()

    opened = stations.named_or_awaited(make, "headset")  # type: ignore[arg-type]
    assert "no device is called headset; waiting for it." in capsys.readouterr().err
    with pytest.raises(DeviceError):
        opened()
    card.plugged.add("headset")
    assert opened().name == "headset"  # type: ignore[attr-defined]
    card.plugged.remove("headset")
    assert opened().name == "built in"  # type: ignore[attr-defined]
