"""`python -m benchmarks …`, in the folder of the source: every number that we publish, measured again."""

from __future__ import annotations

import click

from handsfree.cli import Lazy

_BENCHES = {
    "faults": ("benchmarks.faults:faults", "Power losses at any moment, resumed."),
    "damage": ("benchmarks.damage:damage", "Damaged journals: named, not believed."),
    "soak": ("benchmarks.soak:soak", "Hours of audio: memory, delay, replay."),
    "cost": ("benchmarks.cost:cost", "What it takes: processor time, memory, start."),
    "latency": ("benchmarks.latency:latency", "From the end of speech to the reply."),
    "hearing": ("benchmarks.hearing:hearing", "Accuracy by voice, noise and engine."),
    "gate": ("benchmarks.gate:gate", "Half hours of noise: words that the speech gate misses."),
    "outdoors": ("benchmarks.outdoors:outdoors", "Accuracy live, in recorded noise."),
    "phrases": ("benchmarks.phrases:phrases", "Phrases that do not carry in noise."),
    "overheard": ("benchmarks.overheard:overheard", "Talk that is not meant for it: what is taken."),
    "quiet": ("benchmarks.quiet:quiet", "Hours in which nothing is said to the program."),
    "call": ("benchmarks.call:call", "The call phrase: false calls by the hour, missed ones."),
    "stops": ("benchmarks.stops:stops", "\"Stop\" in the middle of a prompt; false stops by the hour."),
    "stay-by-voice": ("benchmarks.stay_by_voice:stay_by_voice", "A whole stay by voice, without a key."),
    "stays": ("benchmarks.stays:stays", "Whole stays in noise: what was misheard did."),
    "talk": ("benchmarks.talk:talk_command", "How long the program talks over a stay."),
    "pace": ("benchmarks.pace:pace", "How far a stay makes one walk, as written and at the least."),
    "proof": ("benchmarks.proof_scaling:proof", "Time of the proof against the number of steps."),
    "review": ("benchmarks.review_loading:review", "Loading thousands of sessions."),
    "forecast": ("benchmarks.forecast_calibration:forecast", "How often the forecast was met."),
}


@click.group(cls=Lazy, table=_BENCHES)
def main() -> None:
    """Measure speed and accuracy on this machine, beside the plain library."""


if __name__ == "__main__":
    main(prog_name="python -m benchmarks")
