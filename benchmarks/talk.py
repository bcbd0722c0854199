"""`python -m benchmarks talk`: how long the program talks over a stay, in the voice that you hear.

Every site question is answered yes, every response is right at the first time, and nothing is
waited for, so this is the talk of a smooth stay with full hook-ups; work takes its own time.
May import the session, its doubles, the speaking room and the checklist loader; click.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from handsfree.audio import SAMPLE_RATE
from handsfree.checklist.loader import load_checklist
from handsfree.checklist.rig_file import Rig, load_rig
from handsfree.language.loader import load_language
from handsfree.language.model import Language
from handsfree.rehearsal.script import Script
from handsfree.session.manner import FORMS, Manner
from handsfree.session.opening import start_new
from handsfree.speaking.cache import PromptCache
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.speaking.pyttsx3_voice import Pyttsx3Voice
from handsfree.speaking.voice import VoiceOptions
from handsfree.storage.paths import checklists_folder, find_rig
from handsfree.testing import Talk as Walk
from handsfree.testing import talk

STAY = ("arrive", "depart")


@dataclass(frozen=True)
class Talk:
    """What one walk of a checklist came to: seconds and words of the program's talk, answers."""

    seconds: float
    words: int
    answers: int


def walked(
    rig: Rig, names: Sequence[str], language: Language, folder: Path, form: str = "usual",
) -> Iterator[Walk]:
    """Each checklist walked, one after another on one record.

    Args:
        folder: where the record is kept.
        form: in how many words it speaks, of `manner.FORMS`.

    Raises:
        RuntimeError: a walk that does not come to its end.
    """
    for name in names:
        checklist = load_checklist(checklists_folder() / f"{name}.yaml", rig=rig,
                                   library=checklists_folder())
        started = start_new(checklist, rig, folder, {"rehearsal": True})
        walk = talk(checklist, language, Script(answers=dict.fromkeys(checklist.steps, True)),
                    started=started, manner=Manner(form=form))
        started.log.close()
        if not walk.conversation.over:
            raise RuntimeError(f"{name} does not come to its end after {walk.turns[-1]}")
        yield walk


def summed_up(walk: Walk, lasting: Callable[[str], float]) -> Talk:
    """What a walk came to; `lasting` gives the seconds of a text in the voice."""
    texts = [prompt.text for prompt in walk.prompts if prompt.text]
    return Talk(sum(lasting(text) for text in texts), sum(len(text.split()) for text in texts),
                len(walk.words_of("operator")))


@click.command("talk")
@click.option("--rig", "rigs", multiple=True, default=("survey-trailer", "tandem-slide"),
              show_default=True, help="Rig to walk with; may be given several times.")
@click.option("--stays", type=click.IntRange(min=1), default=2, show_default=True,
              help="Stays on one record: the first is opened at length, the later ones are not.")
def talk_command(rigs: tuple[str, ...], stays: int) -> None:
    """Minutes that the program talks in a smooth stay, for each rig, stay and manner."""
    language = load_language("en")
    reading = load_normaliser("en")
    click.echo(f"{'rig':16s} {'manner':7s} {'stay':>4s} {'list':8s} {'minutes':>7s} {'words':>6s}"
               f" {'answers':>7s}")
    with (Pyttsx3Voice(VoiceOptions(language=language.voice)) as voice,
          PromptCache(voice) as cache):

        def lasting(text: str) -> float:
            return len(cache.get(reading.say(text))) / SAMPLE_RATE

        for rig in rigs:
            for form in FORMS:
                with tempfile.TemporaryDirectory(prefix="handsfree-talk-") as folder:
                    walks = walked(load_rig(find_rig(rig)), STAY * stays, language, Path(folder),
                                   form)
                    for number, walk in enumerate(walks):
                        found = summed_up(walk, lasting)
                        click.echo(
                            f"{rig:16s} {form:7s} {number // len(STAY) + 1:4d}"
                            f" {STAY[number % len(STAY)]:8s} {found.seconds / 60:7.1f}"
                            f" {found.words:6d} {found.answers:7d}")
