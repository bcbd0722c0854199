"""Where operators stand: microphone, loudspeaker and recogniser of each, kept going by `failover`.

May import everything, as `wiring`; only the command modules import it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass

from handsfree.checklist.model import SIDES
from handsfree.cli.wiring import device, tell
from handsfree.devices.sound_card import SoundCardMicrophone, SoundCardSpeaker, look_again
from handsfree.errors import DeviceError, InputError
from handsfree.hearing.types import Recogniser
from handsfree.session.failover import FailoverMicrophone, FailoverRecogniser, FailoverSpeaker
from handsfree.session.fault_reports import FaultReports


@dataclass(frozen=True)
class Station:
    """One operator's."""

    recogniser: FailoverRecogniser
    ear: FailoverMicrophone
    out: FailoverSpeaker
    troubles: FaultReports
    on_cards: bool = False
    """Microphone and loudspeaker are of sound cards."""


def named_by_side(values: Sequence[str], option: str) -> dict[str, str]:
    """Device by side, of an option that may be given as DEVICE, or as SIDE=DEVICE for each side.

    Raises:
        InputError: several devices without sides, or one side without the other.
    """
    sides = {side: value.removeprefix(f"{side}=")
             for value in values for side in SIDES if value.startswith(f"{side}=")}
    plain = [value for value in values if not value.startswith(tuple(f"{s}=" for s in SIDES))]
    if not sides and len(plain) < 2:
        return dict.fromkeys(("",), plain[0]) if plain else {}
    if plain or len(sides) < len(SIDES) or len(values) > len(SIDES):
        both = " ".join(f"{option} {side}=DEVICE" for side in SIDES)
        raise InputError(f"{option} takes one device, or one for each of two operators: {both}.")
    return sides


def waited_for(
    make: Callable[[], SoundCardMicrophone], out: FailoverSpeaker,
    again: Callable[[], None] = look_again,
) -> Callable[[], SoundCardMicrophone]:
    """Opens a microphone, also one that came after the program, or was unplugged meanwhile.

    Args:
        make: opens it, if it is known.
        out: has to be closed while devices are looked for anew.
    """
    def opened() -> SoundCardMicrophone:
        try:
            return make()
        except DeviceError:
            if out.playing:
                raise
        resting = out.resting
        out.close()
        try:
            again()
            return make()
        finally:
            if not resting:
                out.renew()

    return opened


def named_or_awaited(
    make: Callable[[str | None], SoundCardMicrophone], named: str | None
) -> Callable[[], SoundCardMicrophone]:
    """As `wiring.device`, but a microphone that was named and is not there yet is waited for, and this is
    said on the terminal; no other is taken in its place before it has come once."""
    try:
        return device(make, named)
    except DeviceError as problem:
        tell(f"{str(problem).partition(';')[0].rstrip('.')}; waiting for it.  'handsfree doctor' lists"
             " those that there are.")
    came: list[Callable[[], SoundCardMicrophone]] = []

    def opened() -> SoundCardMicrophone:
        if not came:
            came.append(device(make, named))
        return came[0]()

    return opened


@contextmanager
def standing(
    sides: Sequence[str], mics: Mapping[str, str], speakers: Mapping[str, str],
    opened: Callable[[], Recogniser], clock: Callable[[], float],
) -> Iterator[dict[str, Station]]:
    """The stations of these sides ('' for one operator), opened; they share what has no side.

    One operator's microphone may come later; with two, looking for it would cut the other's off.

    Raises:
        DeviceError: a named loudspeaker, or one of two microphones, cannot be opened.
    """
    with ExitStack() as stack:
        stations: dict[str, Station] = {}
        for side in sides:
            first = stations.get(sides[0])
            troubles = FaultReports(clock)
            out = first.out if first and not speakers.get(side) else stack.enter_context(
                closing(FailoverSpeaker(device(SoundCardSpeaker, speakers.get(
                    side, speakers.get(""))), troubles)))
            mic = mics.get(side, mics.get(""))
            ear = stack.enter_context(closing(FailoverMicrophone(
                waited_for(named_or_awaited(SoundCardMicrophone, mic), out, look_again)
                if len(sides) == 1 else device(SoundCardMicrophone, mic), troubles)))
            recogniser = stack.enter_context(
                closing(FailoverRecogniser(opened(), opened, troubles)))
            stations[side] = Station(recogniser, ear, out, troubles, True)
        yield stations
