"""`handsfree say`: a checklist read aloud, so that its author hears what operators will hear."""

from __future__ import annotations

from pathlib import Path

import click

from handsfree.cli.complete import checklists, rigs
from handsfree.errors import InputError, StorageError
from handsfree.storage.paths import checklists_folder, data_folder, find_checklist, find_rig

_PAUSE = 0.6
"""Seconds between two prompts."""


@click.command()
@click.argument("file", shell_complete=checklists)
@click.option("--text", "as_text", is_flag=True, help="Print the words as they are said; no sound.")
@click.option("--wav", type=click.Path(path_type=Path), default=None, metavar="OUT.wav",
              help="Write the sound into this file instead of playing it.")
@click.option("--step", "only", multiple=True, metavar="ID",
              help="Only what is about this step, rule or fact; may be given several times.")
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file, for its limits.")
@click.option("--speaker", default=None, metavar="DEVICE", help="Output, by name or number.")
def say(
    file: str, as_text: bool, wav: Path | None, only: tuple[str, ...], rig: str | None,
    speaker: str | None,
) -> None:
    """Read the checklist FILE aloud: everything it will ever say.

    That is the opening, each step with detail, reason, readback and remedy, the alarms, the facts
    and the closing, with numbers, units and abbreviations as the voice says them.  FILE is a path
    or a name such as arrive.
    """
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import load_rig
    from handsfree.checklist.yaml_reader import did_you_mean
    from handsfree.cli import wiring
    from handsfree.language.loader import load_language
    from handsfree.paper.aloud import everything_spoken
    from handsfree.speaking.normalisation_table import load_normaliser

    if as_text and wav:
        raise InputError("--text makes no sound, so --wav has nothing to write; give one of them.")
    checklist = load_checklist(
        find_checklist(file), rig=load_rig(find_rig(rig)) if rig else None,
        library=checklists_folder())
    language = load_language(checklist.language)
    spoken = list(everything_spoken(checklist, language))
    known = sorted({piece.about for piece in spoken})
    for name in only:
        if name not in known:
            raise InputError(f"'{checklist.id}' has no step, rule or fact '{name}'"
                             f"{did_you_mean(name, known)}.")
    spoken = [piece for piece in spoken if not only or piece.about in only]
    if as_text:
        reading = load_normaliser(language.code)
        width = max(len(piece.about) for piece in spoken)
        for piece in spoken:
            click.echo(f"{piece.about:<{width}}  {reading.say(piece.text)}")
        return
    import numpy as np

    from handsfree.audio import seconds, silence
    from handsfree.sound.files import write_mono

    with wiring.sounds(language, data_folder()) as sounds:
        if wav is not None:
            if not wav.parent.is_dir():
                raise InputError(f"there is no folder {wav.parent}; make it first.")
            pieces = []
            for piece in spoken:
                pieces += [sounds.get(piece.text), silence(_PAUSE)]
            sound = np.concatenate(pieces)
            try:
                write_mono(wav, sound)
            except StorageError as problem:
                raise InputError(str(problem)) from None
            click.echo(f"Written: {wav}  ({seconds(sound) / 60:.1f} minutes,"
                       f" {len(spoken)} prompts)")
            return
        from handsfree.devices.sound_card import SoundCardSpeaker

        with SoundCardSpeaker(speaker) as out:
            sounds.ahead([piece.text for piece in spoken[1:4]])
            for place, piece in enumerate(spoken):
                click.echo(f"{piece.about}: {piece.text}")
                out.play(np.concatenate([sounds.get(piece.text), silence(_PAUSE)]))
                sounds.ahead([after.text for after in spoken[place + 1:place + 3]])
                out.wait()
