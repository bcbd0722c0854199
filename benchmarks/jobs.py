"""The same work in several processes, each with its share of it.

May import the standard library.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from typing import TypeVar

Of = TypeVar("Of")
Result = TypeVar("Result")


@dataclass(frozen=True)
class Share:
    """Every `of`-th piece, from the one numbered `number` on."""

    number: int = 0
    of: int = 1

    def __str__(self) -> str:
        return f"part {self.number + 1} of {self.of}"

    def has(self, at: int) -> bool:
        """Whether the piece of that number belongs to it."""
        return at % self.of == self.number

    def numbers(self, count: int) -> range:
        """Which of so many pieces belong to it."""
        return range(self.number, count, self.of)

    def pieces(self, all_of_them: Sequence[Of]) -> Sequence[Of]:
        """Those of them that belong to it."""
        return all_of_them[self.number :: self.of]


def in_processes(
    jobs: int, work: Callable[[Of], Result], shares: Sequence[Of]
) -> Iterator[tuple[Of, Result]]:
    """Each share with what `work` makes of it, as they are done; with one job, in this process."""
    if jobs == 1:
        yield from ((share, work(share)) for share in shares)
        return
    # Not forked: libraries that were opened here may have threads.
    with ProcessPoolExecutor(jobs, get_context("spawn")) as pool:
        running = {pool.submit(work, share): share for share in shares}
        for done in as_completed(running):
            yield running[done], done.result()
