"""`handsfree bench …`: every number that we publish can be measured again here."""

from __future__ import annotations

import click

from handsfree.cli import Lazy

_BENCHES = {
    "faults": ("handsfree.bench.faults:faults", "Power losses at any moment, resumed."),
    "damage": ("handsfree.bench.damage:damage", "Damaged journals: named, not believed."),
    "soak": ("handsfree.bench.soak:soak", "Hours of audio: memory, delay, replay."),
    "latency": ("handsfree.bench.latency:latency", "From the end of speech to the reply."),
    "hearing": ("handsfree.bench.hearing:hearing", "Accuracy by voice, noise and engine."),
    "gate": ("handsfree.bench.gate:gate", "Half hours of noise: words that the speech gate misses."),
    "outdoors": ("handsfree.bench.outdoors:outdoors", "Accuracy live, in recorded noise."),
    "phrases": ("handsfree.bench.phrases:phrases", "Phrases that do not carry in noise."),
    "quiet": ("handsfree.bench.quiet:quiet", "Hours in which nothing is said to the program."),
    "call": ("handsfree.bench.call:call", "The call phrase: false calls by the hour, missed ones."),
    "stays": ("handsfree.bench.stays:stays", "Whole stays in noise: what was misheard did."),
    "talk": ("handsfree.bench.talk:talk_command", "How long the program talks over a stay."),
    "proof": ("handsfree.cli_check:proof", "Time of the proof against the number of steps."),
    "review": ("handsfree.cli_review:bench_review", "Loading thousands of sessions."),
    "forecast": ("handsfree.cli_review:bench_forecast", "How often the forecast was met."),
}


@click.group(cls=Lazy, table=_BENCHES)
def bench() -> None:
    """Measure speed and accuracy on this machine, beside the plain library."""
