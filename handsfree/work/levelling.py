"""How far to lift which side of the trailer, and with which of the owner's own blocks.

Pure: standard library, `errors` and `finding`.  Side to side is done before unhitching, by
driving onto ramps; fore and aft after it, by the jack; the chocks go in between.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import atan, degrees, inf, radians, tan
from typing import Literal

from handsfree.errors import InputError
from handsfree.work.finding import Finding, Verdict

CLOSE_ENOUGH_DEG = 0.5
"""What counts as level; common practice, no source."""

GRIP = 0.5
"""Friction of wood or plastic on wood, dry: engineering handbooks (from memory).  A pile slides
before it tips as long as it is no higher than `steady_ratio` of its width."""

THIN_IN = 0.5
"""The most that one wheel of several on a side may stand higher than the others, by one piece, which
the equaliser takes up; common practice, no source: the axle maker's manual decides."""

FRIDGE_PRACTICE_DEG = (3.0, 6.0)
"""Across and along an absorption refrigerator; common practice, no source: the unit's own
manual decides."""

_BASIS = "Rise = base x tan(angle); close enough: common practice, no source"


@dataclass(frozen=True)
class Risers:
    """What the owner has to drive onto.

    Attributes:
        steps_in: heights in inches of the ramp steps and single blocks.
        piece_in: how much one loose flat piece raises a wheel, in inches.
        pieces: how many loose pieces there are for one side.
    """

    steps_in: tuple[float, ...] = ()
    piece_in: float = 0.5
    pieces: int = 0


@dataclass(frozen=True)
class Lift:
    """One way to use the risers: a step, or layers of pieces under some wheels of one side."""

    height_in: float = 0.0
    step: int = 0
    layers: int = 0
    wheels: int = 0


@dataclass(frozen=True, kw_only=True)
class SideLevel(Finding):
    """``remaining_deg`` above zero: the low side is still low."""

    low: str
    rise_in: float
    lift_in: float
    step: int | None
    """Which of ``Risers.steps_in``, counted from 1 and from the lowest; None for no step."""
    layers: int | None
    wheels: int | None
    """Loose pieces: how many layers, under how many wheels of the side; None for none."""
    remaining_deg: float


@dataclass(frozen=True, kw_only=True)
class ForeLevel(Finding):
    """``move_in``: how far the coupler has to move, up when the front is low."""

    low: str
    move_in: float
    missing_in: float
    """Travel that the jack lacks."""
    angle_deg: float


@dataclass(frozen=True, kw_only=True)
class Fridge(Finding):
    """Off level across and along the refrigerator itself."""

    across_deg: float
    along_deg: float


def rise(base_in: float, angle_deg: float) -> float:
    """Inches by which the low end of ``base_in`` has to come up: base x tan(angle).

    Plane trigonometry.  Whether tan or sin is right depends on whether the base was measured
    level or along the slope; they differ by 0.55 % at 6 degrees.
    """
    return base_in * tan(radians(angle_deg))


def angle(rise_in: float, base_in: float) -> float:
    """Degrees that a rise makes over a base: the inverse of `rise`.

    Also the way to read a plain spirit level: lift its low end by ``rise_in`` until the bubble
    stands in the middle; ``base_in`` is the level's length.

    Raises:
        InputError: the base is not above zero.
    """
    if base_in <= 0:
        raise InputError("The length that the angle is taken over must be above zero.")
    return degrees(atan(rise_in / base_in))


def steady_ratio(grip: float = GRIP) -> float:
    """How high a pile may be over its width so that a push slides it before it tips: 1 / (2 grip).

    Statics: a push at the top of a pile of height h and width b tips it above load x b / (2 h), and
    slides it above load x grip.

    Raises:
        InputError: a friction that is not above zero.
    """
    if grip <= 0:
        raise InputError("The friction must be above zero.")
    return 1 / (2 * grip)


def lifts(risers: Risers, wheels: int) -> Iterator[Lift]:
    """Every lift worth trying for a side with so many wheels, nothing at all included.

    All wheels of a side are lifted together, so that they carry alike.  One thin piece under some
    of them is the exception: under one wheel of a tandem it raises that side by half its height,
    because the equaliser shares it (common practice, no source).
    """
    yield Lift()
    steps = sorted(risers.steps_in)
    for number, height in enumerate(steps, start=1):
        yield Lift(height, step=number)
    for under in range(1, wheels + 1):
        most = risers.pieces // under
        if under < wheels:
            most = min(most, 1) if risers.piece_in <= THIN_IN else 0
        for layers in range(1, most + 1):
            yield Lift(risers.piece_in * layers * under / wheels, layers=layers, wheels=under)


def level_side(
    angle_deg: float,
    low: Literal["left", "right"],
    track_in: float,
    risers: Risers = Risers(),
    *,
    wheels: int = 1,
    limit_deg: float | None = None,
) -> SideLevel:
    """Side to side: how much, which side, which riser, what remains.

    Args:
        angle_deg: how far the floor leans, 0 or more and below 45 degrees.
        low: the lower side.
        track_in: distance between the wheels' middles, left to right, in inches.
        risers: the owner's own.
        wheels: wheels on one side, 1 or 2 or more.
        limit_deg: the most lean that the rig's manual lets be corrected here; None if unknown.

    Returns:
        STOP beyond the rig's limit, and, where no limit is known, when nothing owned brings it
        close enough; CAUTION when some lean remains within the limit.

    Raises:
        InputError: an angle or track that cannot be.
    """
    _check(angle_deg, track_in, "track")
    if wheels < 1:
        raise InputError("A side has at least one wheel.")
    need = rise(track_in, angle_deg)
    best = Lift()
    if angle_deg > CLOSE_ENOUGH_DEG:
        lowest = min(risers.steps_in, default=inf)
        best = min(lifts(risers, wheels), key=lambda lift: _rank(lift, need, track_in, lowest))
    remaining = angle(need - best.height_in, track_in)
    if limit_deg is not None and angle_deg > limit_deg:
        verdict, say, best, remaining = Verdict.STOP, "level.side.beyond", Lift(), angle_deg
    elif angle_deg <= CLOSE_ENOUGH_DEG:
        verdict, say = Verdict.OK, "level.side.good"
    elif abs(remaining) <= CLOSE_ENOUGH_DEG:
        verdict = Verdict.OK
        say = "level.side.step" if best.step else "level.side.pieces"
    else:
        verdict = Verdict.STOP if limit_deg is None else Verdict.CAUTION
        say = "level.side.short" if best.height_in else "level.side.nothing"
    return SideLevel(
        verdict=verdict, say=say, basis=_BASIS, low=low, rise_in=need, lift_in=best.height_in,
        step=best.step or None, layers=best.layers or None, wheels=best.wheels or None,
        remaining_deg=remaining,
    )  # fmt: skip


def untold(found: SideLevel) -> SideLevel:
    """The same where nobody has said what is owned, so that nothing was found wanting."""
    if found.say != "level.side.nothing":
        return found
    return replace(found, say="level.side.untold", verdict=Verdict.CAUTION)


def _rank(
    lift: Lift, need_in: float, track_in: float, lowest_in: float
) -> tuple[bool, bool, float, int, int]:
    """Lower is better: what brings it close enough; among that a step, where the owner's lowest
    step or more is needed; then what comes closest, with the fewest pieces."""
    off = abs(need_in - lift.height_in)
    short = abs(angle(off, track_in)) > CLOSE_ENOUGH_DEG
    loose = not short and need_in >= lowest_in and not lift.step
    return short, loose, round(off, 6), lift.layers, lift.wheels


def level_fore(
    angle_deg: float,
    low: Literal["front", "rear", "either"],
    jack_to_axle_in: float,
    *,
    travel_in: float | None = None,
    limit_deg: float | None = None,
) -> ForeLevel:
    """Fore and aft: how far the tongue jack has to move the front, up or down.

    Args:
        angle_deg: how far the floor leans, 0 or more and below 45 degrees.
        low: the lower end; "either" where only the angle is known.
        jack_to_axle_in: from the jack to the axle, or to the middle between two, in inches.
        travel_in: what the jack has left in the direction needed, or upwards where that is not
            known; None if unknown.
        limit_deg: the rig's own limit; None if unknown.

    Returns:
        STOP beyond the rig's limit and where the jack is short; a CAUTION where it would only be
        short if the front is the low end, which is not known.

    Raises:
        InputError: an angle or distance that cannot be.
    """
    _check(angle_deg, jack_to_axle_in, "distance from jack to axle")
    move = rise(jack_to_axle_in, angle_deg)
    missing = 0.0 if travel_in is None else max(0.0, move - travel_in)
    if limit_deg is not None and angle_deg > limit_deg:
        verdict, say = Verdict.STOP, "level.fore.beyond"
    elif angle_deg <= CLOSE_ENOUGH_DEG:
        verdict, say = Verdict.OK, "level.fore.good"
    elif low == "either":
        verdict = Verdict.CAUTION if missing else Verdict.OK
        say = "level.fore.either.missing" if missing else "level.fore.either"
    elif missing:
        verdict, say = Verdict.STOP, f"level.fore.{'up' if low == 'front' else 'down'}.missing"
    else:
        verdict, say = Verdict.OK, "level.fore.down" if low == "rear" else "level.fore.up"
    return ForeLevel(
        verdict=verdict, say=say, basis=_BASIS, low=low, move_in=move, missing_in=missing,
        angle_deg=angle_deg,
    )  # fmt: skip


def jack_pile(
    angle_deg: float, low: Literal["front", "rear"], jack_to_axle_in: float, travel_in: float
) -> ForeLevel:
    """While still hitched: what more has to go under the jack's pad.

    Args:
        angle_deg: how far the floor leans now, 0 or more and below 45 degrees.
        low: the lower end.
        jack_to_axle_in: from the jack to the axle, or to the middle between two, in inches.
        travel_in: how far the jack goes up from where it carries.

    Returns:
        A CAUTION with `missing_in` where the jack would come to its end; later, with the truck
        away, nothing can be put under it any more.

    Raises:
        InputError: an angle or distance that cannot be.
    """
    found = level_fore(angle_deg, low, jack_to_axle_in,
                       travel_in=travel_in if low == "front" else None)
    more = found.missing_in > 0 and low == "front"
    return replace(found, verdict=Verdict.CAUTION if more else Verdict.OK,
                   say="level.pile.more" if more else "level.pile.good")


def fridge(
    side_deg: float,
    fore_deg: float,
    *,
    limit_across_deg: float = FRIDGE_PRACTICE_DEG[0],
    limit_along_deg: float = FRIDGE_PRACTICE_DEG[1],
    turned: bool = False,
) -> Fridge:
    """Whether an absorption refrigerator may run parked like this.

    The limits belong to the refrigerator's own axes: ``turned`` says that its back stands
    against the front or rear wall, so that the trailer's axes swap.
    """
    across, along = (fore_deg, side_deg) if turned else (side_deg, fore_deg)
    good = abs(across) <= limit_across_deg and abs(along) <= limit_along_deg
    return Fridge(
        verdict=Verdict.OK if good else Verdict.STOP,
        say="fridge.good" if good else "fridge.lean",
        basis="Limits: common practice, no source; the refrigerator's manual decides",
        across_deg=across,
        along_deg=along,
    )


def _check(angle_deg: float, base_in: float, base: str) -> None:
    if not 0 <= angle_deg < 45:
        raise InputError("The angle must be from 0 to 45 degrees; say which side is low instead.")
    if base_in <= 0:
        raise InputError(f"The {base} must be above zero.")
