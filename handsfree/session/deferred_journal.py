"""A log for a session that must go on: what the disk refuses waits in memory, in order.

May import the journal, fault reports and errors.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from handsfree.errors import StorageError
from handsfree.session.fault_reports import FaultReports
from handsfree.storage.journal import Journal
from handsfree.storage.lines import Line


class DeferredJournal:
    """A `Log` that never fails: a line that cannot be written is trouble with the record."""

    def __init__(self, journal: Journal, troubles: FaultReports) -> None:
        self.journal = journal
        self._troubles = troubles

    @property
    def path(self) -> Path:
        """The journal's file."""
        return self.journal.path

    def write(self, line: Line, t: float, who: str = "") -> None:
        """See `Journal.write`; the trouble is over with the first line that can be written."""
        try:
            self.journal.write(line, t, who)
        except StorageError as problem:
            self._troubles.report("record", problem.why, self.journal.catch_up)
        else:
            self._troubles.over("record")

    def close(self, elsewhere: Iterable[Path] = ()) -> None:
        """Write what still waits and close.

        Args:
            elsewhere: folders in which the lines are left when the journal cannot take them.

        Raises:
            StorageError: not all of it is in the journal; says where it is, and the mend.
        """
        try:
            self.journal.close()
        except StorageError as problem:
            kept = self.journal.keep_elsewhere(elsewhere)
            if kept is None:
                raise
            raise StorageError(
                f"the end of the record did not fit into {self.path}; it is in {kept}:"
                f" free space, then append it there (cat '{kept}' >> '{self.path}').",
                why=problem.why) from None
