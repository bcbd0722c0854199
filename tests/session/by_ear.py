"""`python -m tests.session.by_ear`: the sentences of `wordings-*.txt`, spoken and heard at their moments.

Each is said by a synthetic voice and goes through gate, recogniser and the real conversation at its
moment; what came of it is counted as in `test_wordings.py`.
"""

from __future__ import annotations

import random
import time
from collections import Counter

import click
import numpy as np

from benchmarks.speakers import speakers
from handsfree.audio import Samples, silence, to_int16
from handsfree.hearing.engines import open_recogniser
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Heard, Hypothesis, Recogniser, Rejection
from handsfree.language.loader import load_language
from handsfree.rehearsal.rehearsal import at_level, noise_source
from handsfree.speaking.operator_voice import OperatorVoice
from tests.session.wordings import Sentence, outcome, sentences, state_at, talk_at


def came_to(one: Sentence, came: str) -> str:
    """right, asked, not understood or wrong."""
    meant = one.meaning.split("|")
    if came in meant or "nothing" in meant and came in ("wanted", "nothing"):
        return "right"
    if came.startswith("ask ") and came.removeprefix("ask ") in meant:
        return "asked"
    if came in ("nothing", "wanted") or came.startswith("ask "):
        return "not understood"
    return "wrong"


def heard_of(recogniser: Recogniser, grammar: Grammar, sound: Samples) -> Heard:
    """What comes of one utterance: the first that is no mere noise."""
    listener = Listener(recogniser)
    listener.expect(grammar)
    found = listener.feed(np.concatenate((sound, silence(1.5))))
    while isinstance(found, Rejection) and found.reason in ("noise", "too short"):
        found = listener.feed(silence(0))
    return found or Rejection("noise", 0.0, 0.0)


@click.command()
@click.option("--file", "name", default="held-out", show_default=True,
              help="taught, held-out, second, third or strangers.")
@click.option("--every", type=click.IntRange(min=1), default=4, show_default=True, help="Each so many of them.")
@click.option("--voice", default="m3", show_default=True,
              help="Variant of espeak-ng, or another of `benchmarks.speakers`.")
@click.option("--noise", default="", help="wind, rain, engine or pink; quiet otherwise.")
@click.option("--snr", type=float, default=10.0, show_default=True, metavar="DB")
@click.option("--show", is_flag=True, help="Each that was not right.")
def main(name: str, every: int, voice: str, noise: str, snr: float, show: bool) -> None:
    """Count what is understood by ear."""
    language = load_language("en")
    recogniser = open_recogniser("own", "en", None, language.pronunciations)
    air = noise_source(noise, snr, 1) if noise else None
    counts: Counter[tuple[str, str]] = Counter()
    processor, utterances = 0.0, 0
    others = speakers()
    with OperatorVoice(language.voice, "m3" if voice in others else voice, 150) as speaker:
        for one in sentences(name)[::every]:
            talk = talk_at(one.moment)
            talk.state = state_at(one.moment)[1]
            sound = np.concatenate((silence(0.8), at_level(
                others[voice](one.words, random.Random(one.words)) if voice in others
                else speaker.render(one.words))))
            if air:
                sound = to_int16(sound.astype(np.float64) + air(len(sound)))
            began = time.process_time()
            heard = heard_of(recogniser, talk.grammar(), sound)
            processor, utterances = processor + time.process_time() - began, utterances + 1
            came = outcome(one.words, one.moment, heard=heard)
            kind = came_to(one, came)
            counts["nothing meant" if one.meaning == "nothing" else "meant", kind] += 1
            if show and kind != "right":
                text = f"{heard.text} [{heard.confidence:.2f}]" if isinstance(heard, Hypothesis) else (
                    f"({heard.reason}; best {heard.best} [{heard.confidence:.2f}]; written '{heard.written}')")
                click.echo(f"{kind}: {one} -- heard {text}, came to {came}")
    for (what, kind), count in sorted(counts.items()):
        click.echo(f"{what:16}{kind:16}{count}")
    click.echo(f"{processor / utterances:.3f} s of processor time an utterance")


if __name__ == "__main__":
    main()
