"""The hearing benchmark's report as tables on the terminal and as a plot.

May import click and the tallies; matplotlib late.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from benchmarks.tally import Tally

SPOKEN = ("commands", "hold responses", "readings", "human digits")
SNRS = ("clean", "20", "10", "5", "0")

_COUNTS = tuple(Tally().__dict__)


def summed(rows: Iterable[dict[str, Any]], **wanted: str) -> Tally:
    """The sum of a report's rows that agree with what is wanted."""
    return sum((Tally(**{name: row[name] for name in _COUNTS}) for row in rows
                if all(row[key] == value for key, value in wanted.items())), Tally())


def share(part: int, tally: Tally) -> float:
    """Of all, or 0 of none."""
    return part / tally.n if tally.n else 0.0


def show(report: dict[str, Any]) -> None:
    """Print the tables."""
    for name, found in report["engines"].items():
        _engine(name, found, report)
    click.echo(f"\n{report['seconds'] / 60:.1f} minutes.  best: word for word; taken: acted upon"
               " and right; wrong: acted upon and not what was meant; asked: asked about first.")


def _engine(name: str, found: dict[str, Any], report: dict[str, Any]) -> None:
    rows = found["rows"]
    click.echo(f"\n{name}: {found['seconds a second']} s of one core a second of sound,"
               f" {found['megabytes']} MB")
    click.echo(f"  {'':16}{'SNR':>6}{'n':>7}{'best':>8}{'taken':>8}{'asked':>8}{'wrong':>8}"
               f"{'WER':>8}   best by noise")
    for what in SPOKEN:
        for snr in SNRS:
            tally = summed(rows, what=what, snr=snr)
            if not tally.n:
                continue
            noises = [(kind, summed(rows, what=what, snr=snr, noise=kind))
                      for kind in report["noises"]]
            by = "  ".join(f"{kind} {share(t.best, t):.3f}" for kind, t in noises if t.n)
            click.echo(f"  {what:16}{snr:>6}{tally.n:7}{share(tally.best, tally):8.3f}"
                       f"{share(tally.right, tally):8.3f}{share(tally.asked, tally):8.3f}"
                       f"{share(tally.wrong, tally):8.4f}"
                       f"{tally.word_errors / max(tally.words, 1):8.3f}   {by}")
    click.echo("  best by voice, all conditions: " + "  ".join(
        f"{voice} {share(t.best, t):.3f}" for voice in sorted({r["voice"] for r in rows})
        if (t := summed(rows, voice=voice)).words))
    speech = found["speech that is no command"]
    if speech["n"]:
        click.echo(f"  speech that is no command: {speech['n']} utterances,"
                   f" {speech['hours heard']} h: {speech['taken']} taken"
                   f" ({speech['taken an hour']} an hour), {speech['asked about']} asked about,"
                   f" {speech['hold responses']} taken for a hold point's response")
        for kind in ("step", "hold", "reading", "confirm"):
            tally = summed(rows, what=f"no command, {kind}")
            click.echo(f"    at a {kind}: {tally.wrong} taken, {tally.asked} asked about"
                       f" of {tally.n}")
        for one in [one for one in speech["what"] if one["taken"]][:12]:
            click.echo(f"    {one['file']} at a {one['moment']}: '{one['heard']}'"
                       f" ({one['confidence']})")
    alone = found["noise alone"]
    click.echo(f"  noise alone: {alone['taken']} of {sum(alone['pieces of 3 s'].values())}"
               " pieces of 3 s taken")
    click.echo("  calibration (ECE): " + "  ".join(
        f"{what} {one['ece']}" for what, one in found["calibration"].items()))
    if found["confused"]:
        click.echo("  most confused: " + "; ".join(
            f"'{said}' as '{heard}' ({n})" for said, heard, n in found["confused"][:6]))


def plot(report: dict[str, Any], path: Path) -> None:
    """Accuracy by ratio for each kind of speech and engine, ours by noise; and reliability."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    shown = [what for what in SPOKEN if any(
        summed(found["rows"], what=what).n for found in report["engines"].values())]
    figure, axes = pyplot.subplots(1, len(shown) + 1, figsize=(3.6 * (len(shown) + 1), 3.9))
    places = range(len(SNRS))
    styles = ("-", "--", ":", "-.")
    for axis, what in zip(axes, shown, strict=False):
        for order, (name, found) in enumerate(report["engines"].items()):
            line = [summed(found["rows"], what=what, snr=snr) for snr in SNRS]
            points = [(at, share(t.best, t)) for at, t in zip(places, line, strict=True) if t.n]
            axis.plot(*zip(*points, strict=True), marker="o", label=name, color=f"C{order}",
                      linestyle=styles[order % 4], linewidth=2)
            if order == 0:
                _bands(axis, found["rows"], what, report["noises"])
        axis.set(title=what, xlabel="signal-to-noise ratio, dB", ylim=(0, 1.03))
        axis.set_xticks(list(places), SNRS)
        axis.grid(alpha=0.3)
    axes[0].set_ylabel("share right (best guess)")
    axes[0].legend(fontsize=8, loc="lower left")
    last = axes[-1]
    last.plot([0, 1], [0, 1], color="grey", linewidth=0.8)
    for order, (name, found) in enumerate(report["engines"].items()):
        bins = found["calibration"]["everything"]["bins"]
        last.plot([b["confidence"] for b in bins], [b["right"] for b in bins], marker="o",
                  color=f"C{order}", linestyle=styles[order % 4], label=name)
    last.set(title="reliability", xlabel="confidence", ylabel="share right", xlim=(0, 1.03),
             ylim=(0, 1.03))
    last.grid(alpha=0.3)
    figure.tight_layout()
    figure.savefig(path, dpi=120)
    pyplot.close(figure)


def _bands(axis: Any, rows: list[dict[str, Any]], what: str, noises: list[str]) -> None:
    """From the worst noise to the best, at each ratio, as a shade."""
    low, high, at = [], [], []
    for place, snr in enumerate(SNRS[1:], 1):
        shares = [share(t.best, t) for kind in noises
                  if (t := summed(rows, what=what, snr=snr, noise=kind)).n]
        if shares:
            at.append(place)
            low.append(min(shares))
            high.append(max(shares))
    axis.fill_between(at, low, high, color="C0", alpha=0.15, linewidth=0)
