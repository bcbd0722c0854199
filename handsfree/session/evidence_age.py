"""When each piece of evidence was last seen, and when it has grown old.

Pure: time arrives with each call, in seconds of the session's clock.  May import the checklist
model.  Whether it is so is the engine's state; only how long ago it was seen is kept here, and that
for one session: nothing that time would end counts across a pause, nor in the next session, but for
what is lasting.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from handsfree.checklist.model import Evidence


class EvidenceAge:
    """The moment of the last look, by fact."""

    def __init__(self, evidence: Mapping[str, Evidence]) -> None:
        """`evidence` says of each fact how long it may be relied on."""
        self._lasts = {fact: one.minutes for fact, one in evidence.items() if one.minutes}
        self._seen: dict[str, float] = {}

    def seen(self, facts: Collection[str], t: float) -> None:
        """These were looked at, tested or read now."""
        self._seen |= {fact: t for fact in facts if fact in self._lasts}

    def seen_before(self, ago: Mapping[str, float], t: float) -> None:
        """These were seen so many minutes before `t`, in an earlier session."""
        for fact, minutes in ago.items():
            self.seen([fact], t - 60 * minutes)

    def over(self, t: float, facts: Collection[str]) -> list[tuple[str, float]]:
        """Of these facts those that are too old, with the minutes since they were seen.

        Of one that was never seen in this session nobody knows how old it is: it is given an age
        from now on.
        """
        old = []
        for fact in sorted(self._lasts.keys() & set(facts)):
            minutes = (t - self._seen.setdefault(fact, t)) / 60
            if minutes >= self._lasts[fact]:
                old.append((fact, minutes))
        return old
