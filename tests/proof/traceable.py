"""A small file in which everything is traced both ways, to break."""

from __future__ import annotations

from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist

STAY = """\
title: Slide and chocks
facts:
  hitched: {says: the trailer is coupled, otherwise: the trailer stands alone, start: true}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked}
  plugged: {says: the cord is in, otherwise: the cord is not in}
  tested:
    says: the outlet was tested
    evidence: {minutes: 60, void by: [hitched], unless: plugged}
  path clear:
    says: the path was seen clear
    evidence: {minutes: 10, void by: [slide]}
  out: the slide-out is out
motions:
  slide:
    {says: the slide-out moves, powered: yes, together: yes, clear: Hands off., words: run the slide}
never:
  - id: roll-away
    when: not hitched and not chocked
    because: nothing holds the trailer
    now: Chock the wheels.
    respond: wheels are chocked
    gives: [chocked]
  - id: untested
    when: plugged and not tested
    because: a wrong outlet kills
    now: Pull the plug.
    respond: plug is out
    ends: [plugged]
  - id: blind
    while: [slide]
    when: not path clear or not chocked
    because: it crushes somebody
hazards:
  rolls:
    harm: The trailer rolls over somebody.
    grave: yes
    source: common practice, no source
    left: Firm ground.
    unsafe:
      - {how: too early, what: The truck is away first., rule: roll-away,
         when: not hitched and not chocked}
      - {how: not given, what: The slide-out shifts its weight., rule: blind, while: [slide],
         when: not chocked}
  crushed:
    harm: The slide-out crushes a hand.
    grave: yes
    source: makers' manuals
    unsafe:
      - {how: too late, what: The look is old., rule: blind, while: [slide], when: not path clear,
         stale: {path clear: [time, slide]}}
  shock:
    harm: The trailer's skin is live.
    source: NFPA 70 (from memory)
    unsafe:
      - {how: too early, what: Nobody tested the outlet., rule: untested,
         when: plugged and not tested, stale: {tested: [time, hitched]}}
steps:
  - {id: chock, do: Chock both wheels., only if: not chocked, gives: [chocked],
     respond: chocks set}
  - {id: pull-away, do: Pull forward., only if: not plugged, needs: [chocked], ends: [hitched],
     respond: truck is away}
  - {id: test, do: "Is the outlet good?", only if: not plugged, gives: [tested],
     respond: outlet good, if no: Leave it alone.}
  - {id: plug-in, do: Plug in., only if: not plugged, needs: [tested], gives: [plugged],
     respond: plugged in}
  - {id: unplug, do: Unplug., ends: [plugged], respond: plug is out}
  - {id: look, do: "Is the path empty?", gives: [path clear], respond: path empty,
     if no: Clear it.}
  - {id: run-out, do: Run the slide out., moves: [slide], gives: [out], respond: slide is out}
"""


def traceable(folder: Path, *changes: tuple[str, str], name: str = "stay") -> Checklist:
    """The file with each old text replaced by a new one, loaded."""
    text = STAY
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / f"{name}.yaml"
    path.write_text(text, encoding="utf-8")
    return load_checklist(path)
