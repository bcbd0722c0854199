"""A small checklist file that proves, and ways of breaking it."""

from __future__ import annotations

from pathlib import Path

from handsfree.checklist.loader import load_checklist
from handsfree.checklist.model import Checklist

STAY = """\
title: Come and go
facts:
  hitched: {start: true, says: the trailer is coupled, otherwise: the trailer is not coupled}
  chocked: {says: the wheels are chocked, otherwise: the wheels are not chocked, travel: must not}
  tap open: {says: the tap is open, otherwise: the tap is shut}
gear:
  hose: {says: the hose is out, otherwise: the hose is in}
questions:
  water here: {ask: Is there water at the site?, says: there is water here}
never:
  - id: roll-away
    when: not hitched and not chocked
    because: nothing holds the trailer
    now: Chock the wheels at once.
    respond: trailer is held
    gives: [chocked]
  - id: burst
    when: tap open and not hose out
    because: water runs out
    now: Shut the tap.
    respond: tap is shut
    ends: [tap open]
remedies:
  leak:
    says: Look at the washer.
    steps:
      - {id: washer, do: Turn the washer over., needs: not tap open}
    gives up: {says: Leave the water off., ends: [tap open]}
steps:
  - ask: water here
  - {id: chock, do: Chock both wheels., respond: chocks set, gives: [chocked], must: yes}
  - id: pull-away
    do: Pull the truck forward.
    needs: [chocked]
    ends: [hitched]
  - {id: hose-on, do: Screw the hose on., only if: water here, puts out: [hose]}
  - {id: tap-on, do: Open the tap., needs: [hose out], gives: [tap open], if it fails: leak}
  - {id: tap-off, do: Shut the tap., ends: [tap open]}
  - {id: hose-in, do: Roll the hose up., needs: [not tap open], brings back: [hose]}
  - {id: reverse, do: Back the truck under the coupler., needs: [chocked, not hitched],
     gives: [hitched]}
  - {id: unchock, do: Take the chocks out., needs: [hitched], ends: [chocked]}
closes when: ready to travel
"""


def written(folder: Path, *changes: tuple[str, str], name: str = "stay") -> Checklist:
    """The file with each old text replaced by a new one, loaded."""
    text = STAY.replace("site?,", "site,")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / f"{name}.yaml"
    path.write_text(text, encoding="utf-8")
    return load_checklist(path)
