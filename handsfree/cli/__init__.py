"""Commands, nothing else: each is imported when it is called, so that help is instant.

Turns every error that we raise on purpose into one sentence and its exit status, and so a package
that is not installed, and what the disk refuses.
"""

from __future__ import annotations

import re
import sys
from importlib import import_module
from io import TextIOWrapper
from typing import Any

import click

from handsfree import __version__
from handsfree.errors import HandsfreeError, InputError, StorageError
from handsfree.extras import lacking

_COMMANDS = {
    "run": ("handsfree.cli.run:run", "Walk through a checklist by voice."),
    "stand-by": ("handsfree.cli.stand_by:stand_by", "Wait to be called, then do what you ask."),
    "service": ("handsfree.cli.service:service", "Stand by from power-on (systemd)."),
    "rehearse": ("handsfree.cli.run:rehearse", "The same without a sound card, as a recording."),
    "try": ("handsfree.cli.doctor:try_", "Learn the commands in two minutes, nothing at stake."),
    "tune": ("handsfree.cli.tune:tune", "Fit hearing to your voice; never needed."),
    "doctor": ("handsfree.cli.doctor:doctor", "Is everything working, and what to do next."),
    "rig": ("handsfree.cli.rig:rig", "The rig's record and its file."),
    "place": ("handsfree.cli.place:place", "Where you stay, and what is remembered of it."),
    "check": ("handsfree.cli.check:check", "Prove that no order of events breaks a never rule."),
    "learn": ("handsfree.cli.learn:learn", "Are the phrases of your own checklist heard?"),
    "new": ("handsfree.cli.new:new", "Start a checklist of your own from plain questions."),
    "say": ("handsfree.cli.say:say", "Read a checklist aloud."),
    "schema": ("handsfree.cli.schema:schema", "The JSON Schema of checklists, for editors."),
    "print": ("handsfree.cli.print:print_", "Checklists on paper for the glove box."),
    "review": ("handsfree.cli.review:review", "Where the time went."),
    "forecast": ("handsfree.cli.review:forecast", "When to start in order to roll on time."),
    "export": ("handsfree.cli.review:export", "Records as CSV, Parquet or XES."),
    "import": ("handsfree.cli.review:import_", "Merge journals of another machine."),
    "forget": ("handsfree.cli.forget:forget", "Delete what is on record, by date or all."),
    "way": ("handsfree.cli.way:way", "The order that walks least, on a plan of the rig."),
    "work": ("handsfree.cli.work:work", "Leveling, power, water, drain and towing sums."),
}
_UNLISTED = {"bench": ("handsfree.cli.bench:bench", "What contributors measure.")}


class _Shown(click.ClickException):
    """An error of ours as the operator sees it."""

    def __init__(self, error: HandsfreeError) -> None:
        super().__init__(str(error))
        self.exit_code = error.exit_status  # type: ignore[misc]

    def show(self, file: Any = None) -> None:
        click.echo(f"handsfree: {self.message}", err=True, file=file)


def _misused(error: click.UsageError) -> _Shown:
    """A command that was written wrongly, in one sentence."""
    told = " ".join(error.format_message().split()).rstrip(".").replace(". (", " (")
    told = re.sub(r"\. Did (you mean [^?]+\?)", r" (did \1)", f"{told[:1].lower()}{told[1:]}")
    if (ctx := error.ctx) is not None:
        needed = [record[0] for one in ctx.command.params if isinstance(one, click.Option)
                  and one.required and (record := one.get_help_record(ctx))]
        pieces = [*needed, *(piece for piece in ctx.command.collect_usage_pieces(ctx)
                             if piece != "[OPTIONS]")]
        told += f"; write it as '{' '.join([ctx.command_path, *pieces])}', or see '{ctx.command_path} --help'"
    return _Shown(InputError(f"{told}."))


class Lazy(click.Group):
    """A group whose commands are imported when they are needed."""

    def __init__(self, *args: Any, table: dict[str, tuple[str, str]] | None = None,
                 unlisted: dict[str, tuple[str, str]] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.table = table or {}
        self.unlisted = unlisted or {}

    def list_commands(self, ctx: click.Context) -> list[str]:
        return [*self.table, *super().list_commands(ctx)]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        row = self.table.get(cmd_name) or self.unlisted.get(cmd_name)
        if row is None:
            return super().get_command(ctx, cmd_name)
        module, _, attribute = row[0].partition(":")
        command: click.Command = getattr(import_module(module), attribute)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        rows = [(name, text) for name, (_, text) in self.table.items()]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def make_context(self, *args: Any, **extra: Any) -> click.Context:
        try:
            return super().make_context(*args, **extra)
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            raise _misused(error) from None

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            raise _misused(error) from None
        except HandsfreeError as error:
            raise _Shown(error) from None
        except ImportError as error:
            part = lacking(error)
            if part is None:
                raise
            raise _Shown(part) from None
        except OSError as problem:  # the last resort: who opens a file says more about it
            if isinstance(problem, BrokenPipeError):
                raise  # whoever was to read it has left
            where = f"{problem.filename}: " if problem.filename else ""
            raise _Shown(StorageError(f"{where}{problem.strerror or problem}; check the disk and the"
                                      " folder's permissions.")) from None


@click.group(cls=Lazy, table=_COMMANDS, unlisted=_UNLISTED, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="handsfree")
def main() -> None:
    """Spoken checklists that keep a solo trailer operator in a safe order.

    The program advises; you look and decide.  The owner's manual, local code and licensed trades
    come first.

    Exit status: 0 done, 1 a finding or an unfinished rehearsal, 2 bad input, 3 a sound device,
    4 the record.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a console's encoding may lack what is to be shown
            stream.reconfigure(errors="replace")
