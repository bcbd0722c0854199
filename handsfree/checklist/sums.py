"""The table of sums: what each needs, and when it is told.

Pure; imports nothing of ours.  A step says ``sum: NAME``.  The sum then gets the step's reading,
the numbers of the rig that it names, readings of earlier steps by the name that they are called
by, and those of its facts that are so.  `work.steps` works it out; what is missing leaves it
untold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType


class Told(Enum):
    """When the result is spoken."""

    ALWAYS = "always"
    WARNED = "when it warns, or the reading is out of its limits"
    OUTSIDE = "when the reading is out of its limits"


@dataclass(frozen=True)
class Sum:
    """One calculation.

    With a `unit` it belongs to a reading in that unit: it is told once the reading was confirmed,
    and where it comes to 'do not', a reading within its limits counts as failed.  Without a unit
    it is told after the answer to a site question, or just before a step's challenge.
    """

    unit: str = ""
    numbers: tuple[str, ...] = ()
    earlier: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()
    told: Told = Told.ALWAYS
    informs: bool = False
    """It judges nothing, so that it never comes to 'do not'."""

    @property
    def stops(self) -> bool:
        """Whether it judges a reading, so that it may come to 'do not'."""
        return bool(self.unit) and not self.informs


_RISERS = ("track", "ramp step one", "ramp step two", "ramp step three", "flat pieces",
           "piece thickness", "spot degrees high")
_WAY = ("cord watts", "inlet amps", "main amps")
_WAY_FACTS = ("two legs", "blue plug", "adapter needed")
_JACK = ("jack to axle", "jack travel")
_ENDS = ("nose low", "nose low answered")
_TICKET = ("steer alone", "drive alone", "steer hitched", "drive hitched", "trailer hitched",
           "steer with bars", "drive with bars")
_RATINGS = ("gross rating", "axle rating", "tyre rating", "hitch rating", "steer rating",
            "drive rating", "truck rating", "combined rating", "tongue percent low",
            "tongue percent high")

SUMS: Mapping[str, Sum] = MappingProxyType({
    "lift side": Sum("degrees", _RISERS, facts=("tandem axle",), told=Told.OUTSIDE),
    "spot slope": Sum("degrees", _RISERS, facts=("tandem axle",)),
    "lift front": Sum("degrees", _JACK, facts=_ENDS, told=Told.OUTSIDE),
    "jack pile": Sum("degrees", _JACK, facts=_ENDS, told=Told.WARNED),
    "fridge level": Sum(earlier=("side level", "fore level"), told=Told.WARNED),
    "supply": Sum("amps", _WAY, ("adapter amps",), _WAY_FACTS),
    "tester": Sum(facts=("first lamp", "second lamp", "red lamp")),
    "one leg": Sum("volts", facts=("blue plug",), told=Told.WARNED),
    "two legs": Sum("volts", earlier=("leg one",), told=Told.WARNED),
    "extension": Sum("feet", ("cord gauge", "cord area", *_WAY),
                     ("supply amps", "outlet volts", "adapter amps"), _WAY_FACTS),
    "load": Sum("watts", ("always watts", "fridge watts", "water heater watts",
                          "tank heater watts", *_WAY),
                ("supply amps", "adapter amps"),
                ("fridge on", "heater on", "tank heat on", *_WAY_FACTS)),
    "under load": Sum("volts", earlier=("outlet volts",), facts=("blue plug",)),
    "pressure": Sum("psi", ("water psi high", "regulator psi"), told=Told.WARNED),
    "dose": Sum("percent", ("fresh tank gallons",), informs=True),
    "battery hours": Sum("volts", ("battery amp hours", "always watts", "panel watts", "panel tilt", "latitude",
                                   "longitude"), facts=("lithium battery", "sealed battery"),
                         informs=True),
    "run time": Sum(numbers=("generator gallons", "generator watts", "generator hours", "generator hours at a quarter",
                             "always watts")),
    "tank days": Sum(numbers=("fresh tank gallons", "people")),
    "route": Sum(numbers=("rig length", "other length", "fuel gallons", "miles per gallon", "rig height",
                          "combined rating")),
    "gas days": Sum("percent", ("gas pounds", "furnace btu"), informs=True),
    "sewer": Sum("feet", ("outlet height",), ("inlet height",)),
    "tongue": Sum("pounds", ("loaded weight", "axle rating", "tyre rating", "hitch rating",
                             "tongue percent low", "tongue percent high"),
                  ("trailer weight",), ("tandem axle", "fifth wheel")),
    "ticket": Sum("pounds", _RATINGS, _TICKET, ("tandem axle", "fifth wheel")),
    "ticket with bars": Sum("pounds", _RATINGS, _TICKET, ("tandem axle",)),
    "tyres": Sum("psi", ("tyre psi low", "tyre psi high"), told=Told.WARNED),
    "height": Sum(numbers=("rig height",)),
    "length": Sum(numbers=("rig length", "other length")),
    "unbraked": Sum(numbers=("loaded weight", "gross rating")),
    "nut torque": Sum(numbers=("nut torque low", "nut torque high")),
    "dusk": Sum(numbers=("latitude", "longitude"), earlier=("latitude", "longitude")),
})
"""Every sum by the name that a step gives."""
