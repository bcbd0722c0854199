"""A trailer as it really stands, beside what is on record of it.

`Trailer` knows hands and things, nothing of checklists: what a person does when they are told to do
something, written down from reading the spoken texts, not from what the steps say of facts.  `seen`
is what somebody who walks round it would say of each fact.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

ON, OFF = True, False

HANDS: Mapping[str, Mapping[str, bool]] = {
    "park": {"brake": ON}, "stand-here": {"brake": ON}, "pull-out": {"brake": OFF},
    "chock": {"chocks": ON}, "chock-again": {"chocks": ON}, "chocks-away": {"chocks": OFF},
    "chocks-out": {"chocks": OFF},
    "hand-brake-on": {"hand brake": ON}, "hand-brake-off": {"hand brake": OFF},
    "hook-up-ring": {"chains": ON, "cable": ON, "light cord": ON},
    "jack-pad": {"pad": ON}, "pad-in": {"pad": OFF},
    "crank-on": {"crank": ON}, "crank-take": {"crank": ON}, "crank-out": {"crank": ON},
    "crank-fit": {"crank": ON}, "crank-in": {"crank": OFF}, "crank-stow": {"crank": OFF},
    "jack-down": {"jack": ON}, "jack-raise": {"jack": OFF},
    "bars-off": {"bars": OFF}, "bars-load": {"bars": ON},
    "sway-bar-back": {"sway bar": OFF}, "room-bar": {"sway bar": OFF},
    "sway-bar-off": {"sway bar": OFF}, "sway-bar-set": {"sway bar": ON},
    "light-cord-off": {"light cord": OFF}, "cable-off": {"cable": OFF},
    "chains-off": {"chains": OFF},
    "hook-up": {"chains": ON, "cable": ON, "light cord": ON},
    "hook-up-plain": {"chains": ON, "cable": ON, "light cord": ON},
    "hook-up-bed": {"chains": ON, "cable": ON, "light cord": ON},
    "askew-chocks": {"chocks": OFF}, "chock-anew": {"chocks": ON},
    "jack-back": {"jack": ON}, "legs-back": {"jack": ON},
    "drains-shut-now": {"drains": OFF}, "low-points": {"drains": ON},
    "low-points-shut": {"drains": OFF}, "pipes-empty": {"drains": ON},
    "drains-closed": {"drains": OFF}, "pipes-shut": {"drains": OFF},
    "antenna-storm": {"antenna": OFF}, "pump-rest": {"pump": OFF}, "station-chocks": {"chocks": ON},
    "pin-pull": {"pin": ON}, "pin-back": {"pin": OFF}, "fit-again": {"broken": OFF},
    "latch-open": {"latch": OFF, "tugged": OFF}, "jaws-open": {"latch": OFF, "tugged": OFF},
    "ready-to-couple": {"latch": OFF, "tugged": OFF}, "latch-off": {"latch": OFF, "tugged": OFF},
    "jaws-off": {"latch": OFF, "tugged": OFF}, "latch-close": {"latch": ON}, "jaws-look": {"latch": ON},
    "hitch-grease": {"latch": ON},
    "lift-test": {"tugged": ON}, "tug-test": {"tugged": ON},
    "lift-clear": {"lifted": ON}, "coupler-height": {"lifted": ON}, "coupler-down": {"lifted": OFF},
    "pull-away": {"truck": OFF}, "pull-out-under": {"truck": OFF},
    "ball-under": {"truck": ON, "brake": ON}, "pin-in": {"truck": ON, "brake": ON},
    "stabilisers-down": {"stabilisers": ON}, "stabilisers-up": {"stabilisers": OFF},
    "braces-in": {"braces": ON}, "braces-out": {"braces": OFF},
    "ramp-lay": {"ramps": ON}, "ramps-in": {"ramps": OFF},
    "step-out": {"step": ON}, "step-in": {"step": OFF},
    "markers-out": {"markers": ON}, "markers-in": {"markers": OFF},
    "chairs-out": {"chairs": ON}, "chairs-in": {"chairs": OFF}, "chairs-storm": {"chairs": OFF},
    "awning-out": {"awning": ON}, "awning-in": {"awning": OFF}, "awning-storm": {"awning": OFF},
    "breaker-first": {"our breaker off": ON}, "test-on": {"our breaker off": OFF},
    "test-off": {"our breaker off": ON}, "power-on": {"our breaker off": OFF},
    "power-off": {"our breaker off": ON}, "storm-breaker": {"our breaker off": ON},
    "pedestal-left": {"our breaker off": OFF},
    "tester-in": {"tester": ON}, "tester-out": {"tester": OFF}, "tester-back": {"tester": OFF},
    "outlet-volts": {"outlet tested": ON}, "leg-two": {"outlet tested": ON},
    "plug-in": {"plug": ON}, "unplug": {"plug": OFF, "outlet tested": OFF},
    "storm-unplug": {"plug": OFF, "outlet tested": OFF},
    "lay-cord": {"cord": ON}, "cord-in": {"cord": OFF}, "storm-cord": {"cord": OFF},
    "trip-test": {"outlet tested": ON}, "guard-on": {"protector": ON}, "guard-off": {"protector": OFF},
    "storm-guard": {"protector": OFF},
    "lock-on": {"lock": ON}, "lock-off": {"lock": OFF},
    "generator-place": {"generator": ON}, "generator-stow": {"generator": OFF},
    "generator-start": {"running": ON}, "generator-run": {"running": ON}, "generator-stop": {"running": OFF},
    "generator-shut": {"running": OFF}, "generator-thunder": {"running": OFF},
    "air-line-on": {"air": ON}, "air-line-off": {"air": OFF},
    "lockout-in": {"lockout": ON}, "lockout-out": {"lockout": OFF},
    "again-off": {"our breaker off": ON}, "again-unplug": {"plug": OFF, "outlet tested": OFF},
    "skin-off": {"our breaker off": ON}, "skin-unplug": {"plug": OFF, "outlet tested": OFF},
    "adapter-on": {"adapter": ON}, "adapter-in": {"adapter": OFF}, "storm-adapter": {"adapter": OFF},
    "lay-power-extension": {"long cord": ON}, "power-extension-in": {"long cord": OFF},
    "storm-extension": {"long cord": OFF},
    "regulator-on": {"regulator": ON}, "regulator-off": {"regulator": OFF},
    "tap-test": {"tap": ON}, "tap-rest": {"tap": OFF}, "tap-on": {"tap": ON},
    "tap-off": {"tap": OFF}, "pressure": {"gauge read": ON},
    "filter-on": {"filter": ON}, "filter-off": {"filter": OFF},
    "lay-hose-extension": {"long hose": ON}, "hose-extension-in": {"long hose": OFF},
    "hose-on": {"hose": ON}, "hose-off": {"hose": OFF},
    "tank-look": {"tank": ON}, "tank-look-night": {"tank": ON}, "tank-fill": {"tank": ON},
    "tank-fill-up": {"tank": ON}, "station-fill": {"tank": ON}, "tank-drain": {"tank": OFF},
    "pump-start": {"pump": ON}, "pump-night": {"pump": ON}, "pump-stop": {"pump": OFF},
    "heater-fill": {"heater water": ON}, "heater-fill-up": {"heater water": ON},
    "heater-drain": {"heater water": OFF},
    "heater-on": {"heater": ON}, "heater-off": {"heater": OFF},
    "tank-heat-on": {"tank heat": ON}, "tank-heat-off": {"tank heat": OFF},
    "lay-support": {"support": ON}, "support-in": {"support": OFF},
    "lay-sewer-extension": {"long sewer": ON}, "sewer-extension-in": {"long sewer": OFF},
    "lay-sewer-hose": {"sewer": ON}, "station-hose": {"sewer": ON}, "sewer-hose-in": {"sewer": OFF},
    "seal": {"twisted home": ON}, "station-seal": {"twisted home": ON},
    "unseal": {"twisted home": OFF},
    "black-pull": {"black": ON}, "black-push": {"black": OFF},
    "grey-pull": {"grey": ON}, "grey-push": {"grey": OFF},
    "gas-on": {"gas": ON}, "gas-off": {"gas": OFF}, "gas-storm": {"gas": OFF},
    "fridge-start": {"fridge": ON}, "fridge-stop": {"fridge": OFF},
    "mast-raise": {"mast": ON}, "mast-lower": {"mast": OFF}, "mast-storm": {"mast": OFF},
    "guys-on": {"guys": ON}, "guys-off": {"guys": OFF}, "guys-storm": {"guys": OFF},
    "antenna-raise": {"antenna": ON}, "antenna-lower": {"antenna": OFF},
    "roof-latches": {"latches": OFF}, "roof-latch": {"latches": ON}, "roof-up": {"roof": ON},
    "roof-down": {"roof": OFF}, "props-in": {"props": ON}, "props-out": {"props": OFF},
    "bunks-out": {"bunks": ON}, "bunks-in": {"bunks": OFF}, "bunk-braces": {"bunk braces": ON},
    "braces-bunk-off": {"bunk braces": OFF},
    "camper-cord-off": {"light cord": OFF}, "camper-cord-on": {"light cord": ON}, "ties-off": {"ties": OFF},
    "ties-slack": {"ties": OFF}, "ties-on": {"ties": ON}, "legs-pads": {"pad": ON},
    "legs-down": {"jack": ON}, "camper-down": {"jack": OFF}, "truck-out": {"on its legs": ON},
    "truck-under": {"on its legs": OFF, "brake": ON},
    "car-stop": {"brake": ON, "short": ON}, "car-hold": {"car free": OFF}, "car-cables-off": {"car cables": OFF},
    "car-off": {"car": OFF}, "on-to-spot": {"brake": OFF, "short": OFF}, "car-on": {"car": ON},
    "car-join": {"car cables": ON}, "car-free": {"car free": ON},
    "jacks-pads": {"pad": ON}, "jacks-run": {"jack": ON}, "jacks-up": {"jack": OFF},
    "slide-run-out": {"slide": ON}, "slide-run-in": {"slide": OFF}, "gust-in": {"slide": OFF},
}
"""What is done at a step, by its id, as somebody does it who hears its text."""

IN_DANGER: Mapping[str, Mapping[str, bool]] = {
    "roll-away": {"chocks": ON, "brake": ON}, "nose-drop": {"jack": ON},
    "towing-half-hitched": {"brake": ON}, "rolling-held": {"brake": ON},
    "rolling-connected": {"brake": ON}, "rolling-spread": {"brake": ON},
    "rolling-gas": {"brake": ON}, "live-plug": {"our breaker off": ON},
    "untested-outlet": {"our breaker off": ON, "plug": OFF}, "blind-slide": {},
    "unmeasured-water": {"tap": OFF, "hose": OFF}, "open-drain": {"black": OFF, "grey": OFF},
    "dry-heater": {"heater": OFF}, "dry-tank-heat": {"tank heat": OFF},
    "loose-while-out": {"chocks": ON, "brake": ON},
    "tied-to-the-truck": {"light cord": OFF, "cable": OFF, "chains": OFF, "air": OFF,
                          "bars": OFF, "sway bar": OFF, "ties": OFF},
    "cross-drain": {"black": OFF, "grey": OFF}, "pump-into-drains": {"pump": OFF},
    "rolling-on-the-pin": {"brake": ON}, "camper-drop": {"jack": ON}, "towing-the-car": {"brake": ON},
    "car-rolls": {"car free": OFF},
}
"""What is done at once when a danger is called out."""

SEEN: Mapping[str, str] = {
    "hitched": "truck", "latch locked": "latch", "coupler raised": "lifted", "chains on": "chains",
    "cable on": "cable", "light cord on": "light cord", "bars on": "bars",
    "sway bar on": "sway bar", "air on": "air", "lockout in": "lockout",
    "chocked": "chocks", "hand brake on": "hand brake", "breaker off": "our breaker off",
    "tester in": "tester", "unfit": "broken", "pin pulled": "pin", "drains open": "drains",
    "outlet good": "outlet tested", "plugged in": "plug", "tap open": "tap",
    "pressure proved": "gauge read", "pump on": "pump", "tank filled": "tank",
    "tank heat on": "tank heat", "heater full": "heater water", "heater on": "heater",
    "hose sealed": "twisted home", "black open": "black", "grey open": "grey", "gas open": "gas",
    "fridge on": "fridge", "slide extended": "slide", "mast up": "mast", "antenna up": "antenna",
    "ramps out": "ramps", "jack pad out": "pad", "stabilisers out": "stabilisers",
    "wheel braces out": "braces", "crank out": "crank", "cord out": "cord",
    "adapter out": "adapter", "surge protector out": "protector", "coupler lock out": "lock",
    "power extension out": "long cord",
    "regulator out": "regulator", "filter out": "filter",
    "water hose out": "hose", "hose extension out": "long hose", "sewer hose out": "sewer",
    "sewer extension out": "long sewer", "sewer support out": "support", "guy lines out": "guys",
    "entry step out": "step", "awning out": "awning", "markers out": "markers",
    "camp things out": "chairs", "camper off": "on its legs", "tied down": "ties", "car on": "car",
    "car joined": "car cables", "car freed": "car free", "short of the spot": "short",
    "generator out": "generator", "generator running": "running",
    "roof raised": "roof", "roof latched": "latches", "roof props out": "props", "bunks out": "bunks",
    "bunk braces out": "bunk braces",
}
"""Fact: the thing that it is about."""

ON_THE_ROAD = frozenset({"truck", "latch", "tugged", "chains", "cable", "air", "light cord", "bars",
                         "sway bar", "ties", "car", "car cables", "car free", "latches"})
AT_CAMP = frozenset({
    "chocks", "hand brake", "jack", "lifted", "pad", "stabilisers", "braces", "cord", "plug", "outlet tested",
    "regulator", "filter", "hose", "tap", "gauge read", "step", "awning", "chairs", "gas", "fridge",
    "slide", "mast", "guys", "antenna", "heater water", "heater", "tank", "on its legs", "roof", "props",
    "bunks", "bunk braces"})


@dataclass
class Trailer:
    """Which things are in place, on, open or out."""

    things: set[str] = field(default_factory=lambda: set(ON_THE_ROAD))

    def do(self, changes: Mapping[str, bool]) -> None:
        """Hands on."""
        for thing, on in changes.items():
            (self.things.add if on else self.things.discard)(thing)

    def step(self, name: str) -> None:
        """What is done at a step; nothing where one only looks."""
        self.do(HANDS.get(name, {}))

    def seen(self) -> frozenset[str]:
        """The facts that are so."""
        facts = {fact for fact, thing in SEEN.items() if thing in self.things}
        if "jack" not in self.things:
            facts.add("jack up")
        if "tugged" not in self.things:
            facts.add("coupling unproved")
        if "brake" in self.things or "truck" not in self.things or "on its legs" in self.things:
            facts.add("parked")
        return frozenset(facts)
