"""`python -m benchmarks …`: every number that we publish can be measured again here."""

from __future__ import annotations

import click

from handsfree.cli import Lazy

_BENCHES = {
    "faults": ("benchmarks.faults:faults", "Power losses at any moment, resumed."),
    "damage": ("benchmarks.damage:damage", "Damaged journals: named, not believed."),
    "soak": ("benchmarks.soak:soak", "Hours of audio: memory, delay, replay."),
    "latency": ("benchmarks.latency:latency", "From the end of speech to the reply."),
    "hearing": ("benchmarks.hearing:hearing", "Accuracy by voice, noise and engine."),
    "gate": ("benchmarks.gate:gate", "Half hours of noise: words that the speech gate misses."),
    "outdoors": ("benchmarks.outdoors:outdoors", "Accuracy live, in recorded noise."),
    "phrases": ("benchmarks.phrases:phrases", "Phrases that do not carry in noise."),
    "overheard": ("benchmarks.overheard:overheard",
                  "People's speech that is not meant for it, at every kind of moment."),
    "quiet": ("benchmarks.quiet:quiet", "Hours in which nothing is said to the program."),
    "call": ("benchmarks.call:call", "The call phrase: false calls by the hour, missed ones."),
    "stays": ("benchmarks.stays:stays", "Whole stays in noise: what was misheard did."),
    "talk": ("benchmarks.talk:talk_command", "How long the program talks over a stay."),
    "proof": ("handsfree.cli.check:proof", "Time of the proof against the number of steps."),
    "review": ("handsfree.cli.review:bench_review", "Loading thousands of sessions."),
    "forecast": ("handsfree.cli.review:bench_forecast", "How often the forecast was met."),
}


@click.group(cls=Lazy, table=_BENCHES)
def bench() -> None:
    """Measure speed and accuracy on this machine, beside the plain library."""
