"""Effects by short names, for tests that say what is told in which order."""

from collections.abc import Iterable

from handsfree.engine.state import (
    AskToClose,
    CannotClose,
    Effect,
    Failed,
    ReadBack,
    RemedyBegins,
    Reported,
    Say,
    Skipped,
    Waiting,
)


def told(effects: Iterable[Effect]) -> list[str]:
    """What is said, in short; not what is offered, refused or written down."""
    return [name for effect in effects if (name := _name(effect))]


def _name(effect: Effect) -> str:
    match effect:
        case Say(reply):
            return reply.value
        case Reported(_, kind):
            return kind.value
        case Failed(_, band):
            return f"failed {band}"
        case ReadBack() | RemedyBegins() | Skipped() | Waiting() | CannotClose() | AskToClose():
            return _SHORT[type(effect)]
    return ""


_SHORT = {ReadBack: "read back", RemedyBegins: "remedy", Skipped: "skipped", Waiting: "wait",
          CannotClose: "cannot close", AskToClose: "close with open steps"}
