"""`handsfree learn`: are the phrases of a checklist of one's own heard, and how are its words said?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handsfree.cli.complete import checklists, rigs
from handsfree.cli.engines import engine_option
from handsfree.errors import InputError
from handsfree.storage.paths import checklists_folder, data_folder, find_checklist, find_rig

if TYPE_CHECKING:
    from handsfree.audio import Samples
    from handsfree.hearing.types import Recogniser
    from handsfree.language.model import Language
    from handsfree.session.phrase_trial import Own, Tried

VOICES = ("m3", "f2", "m7")
SURROUNDINGS = (("", 0.0), ("wind", 10.0), ("pink", 10.0))
"""Kind of noise and its signal-to-noise ratio in decibels."""


@click.command()
@click.argument("file", required=False, shell_complete=checklists)
@click.option("--rig", default=None, metavar="NAME", shell_complete=rigs,
              help="Rig file, for its limits.")
@click.option("--call", default=None, metavar="PHRASE",
              help="Try a call phrase for 'stand-by' instead of a checklist.")
@click.option("--say", "given", multiple=True, metavar="WORD=SOUNDS",
              help='Keep how a word is said, as in "chocks=CH AA K S", and try with it.')
@click.option("--unsay", multiple=True, metavar="WORD", help="Forget how you said this word.")
@click.option("--all", "everything", is_flag=True, help="List the phrases heard surely, too.")
@engine_option
@click.option("--model", type=click.Path(path_type=Path), default=None, metavar="DIR",
              help="Folder of a Vosk model.")
def learn(
    file: str | None, rig: str | None, call: str | None, given: tuple[str, ...],
    unsay: tuple[str, ...], everything: bool, engine: str, model: Path | None,
) -> None:
    """Find out whether the phrases of the checklist FILE, or a call of your own, are heard.

    Nothing is trained: the recognizer hears any word whose sounds it knows, so a checklist of your
    own works at once.  This shows how well.  Three synthesised voices speak each hold point's
    response, in quiet, in wind and in a murmur at 10 dB; one voice speaks each step's name, in
    quiet and in wind.  All of it is recognized against everything that may be said at that step.
    Real voices differ: this finds phrases that cannot work. It cannot promise that yours will be
    heard.

    For a word that is in no dictionary, it expects what the voice would say; --say gives another
    pronunciation, in ARPAbet, and keeps it on this machine.

    Exit status: 1 when a hold point's response is not heard reliably (at least three times in
    four, and never taken for something else).
    """
    from handsfree.checklist.loader import load_checklist
    from handsfree.checklist.rig_file import load_rig
    from handsfree.hearing.engines import open_recogniser
    from handsfree.hearing.listening import Listener
    from handsfree.hearing.own_pronunciations import keep_saying, parsed, sayings
    from handsfree.language.loader import load_language
    from handsfree.session.phrase_trial import own_phrases, tried
    from handsfree.session.understanding import Bands

    if call is not None:
        if file or given or unsay:
            raise InputError("--call tries a call phrase alone; leave the rest away.")
        _judge_call(call, engine, model)
        return
    if file is None:
        raise InputError("name the checklist FILE, or a call phrase with --call.")
    new = [parsed(one) for one in given]
    checklist = load_checklist(find_checklist(file), rig=load_rig(find_rig(rig)) if rig else None,
                               library=checklists_folder())
    language = load_language(checklist.language)
    data = data_folder()
    known = sayings(data)
    for word in unsay:
        if word not in known:
            raise InputError(f"you have not said how '{word}' is said; yours are:"
                             f" {', '.join(sorted(known)) or 'none'}.")
    own = own_phrases(checklist, language)
    words = sorted({word for phrase in own for word in phrase.text.split()})
    for word, _ in new:
        if word not in words:
            raise InputError(f"'{word}' is in no phrase of {checklist.id}; its words are:"
                             f" {', '.join(words)}.")
    for word in unsay:
        keep_saying(data, word, "")
    for word, sounds in new:
        keep_saying(data, word, sounds)
    with closing(open_recogniser(engine, language.code, model, language.pronunciations,
                                 user_data=data)) as ear:
        if new and ear.name == "vosk":
            click.echo("A Vosk model has its own words: how you say yours counts for the other"
                       " engines only.")
        click.echo(f"{checklist.title}: {len(own)} phrases, heard by {ear.name}: synthetic"
                   " voices in quiet, wind and a murmur.")
        results = []
        with _voices(language) as spoken, click.progressbar(
                own, label="Listening", show_pos=True) as bar:
            listener = Listener(ear)
            for phrase in bar:
                results.append(tried(phrase, listener, spoken(phrase), Bands()))
        _tell(results, everything)
        _tell_words(words, language, ear, sayings(data), own)
    lost = [one for one in results if one.own.vital and not one.sure]
    if lost:
        click.echo(f"{len(lost)} that nothing else will do for: reword"
                   f" {'it' if len(lost) == 1 else 'them'} in {file}, longer and less alike, or"
                   " give another --say.")
        raise SystemExit(1)


def _judge_call(call: str, engine: str, model: Path | None) -> None:
    """Is it heard asleep, in voices and noises, and is other talk taken for it?

    Raises:
        SystemExit: status 1, when it will not do.
        InputError: it is no call phrase at all.
    """
    from handsfree.hearing.engines import open_recogniser
    from handsfree.hearing.listening import Listener
    from handsfree.hearing.types import Grammar
    from handsfree.language.loader import load_language
    from handsfree.session.phrase_trial import Own, tried
    from handsfree.session.understanding import Bands
    from handsfree.standby.phrases import good_call, load_words
    from handsfree.standby.wake_phrase import WakePhraseListener

    language = load_language("en")
    words = load_words(language.code)
    phrase = good_call(call, words, language)
    grammar = Grammar(frozenset([phrase]))
    with (closing(open_recogniser(engine, language.code, model, language.pronunciations,
                                  user_data=data_folder())) as ear, _voices(language) as spoken):
        listener = Listener(WakePhraseListener(ear, lambda: True))
        found = tried(Own("call", "", phrase, grammar), listener,
                      spoken(Own("call", "", phrase, grammar)), Bands())
        others = [one[0] for one in words.heard.values()] + [
            " ".join(part) for part in (phrase.split()[:-1], phrase.split()[1:])]
        taken = [other for other in others if tried(
            Own("name", "", other, grammar), listener, spoken(Own("name", "", other, grammar)),
            Bands()).mistaken]
    click.echo(f"'{phrase}': heard {found.surely} times of {found.times}, in quiet, wind and a"
               " murmur.")
    for other in taken:
        click.echo(f"'{other}' was taken for it.")
    if not found.sure or taken:
        click.echo("That call will not do. Use a longer one, less like what people say anyway.")
        raise SystemExit(1)
    click.echo(f"It will do.  Keep it in {data_folder() / 'stand-by.yaml'}: call: {phrase}")


@contextmanager
def _voices(language: Language) -> Iterator[Callable[[Own], Iterator[Samples]]]:
    """Speaks a phrase in each voice and noise; a name, which only saves time, in fewer."""
    import numpy as np

    from handsfree.audio import silence, to_int16
    from handsfree.rehearsal.rehearsal import at_level, noise_source
    from handsfree.speaking.normalisation_table import load_normaliser
    from handsfree.speaking.operator_voice import OperatorVoice

    reading = load_normaliser(language.code)
    with ExitStack() as stack:
        voices = [stack.enter_context(OperatorVoice(language.voice, variant))
                  for variant in VOICES]

        def spoken(phrase: Own) -> Iterator[Samples]:
            every = [(voice, around) for around in enumerate(SURROUNDINGS) for voice in voices]
            for voice, (number, (kind, snr)) in every if phrase.vital else every[:4:3]:
                said = at_level(voice.render(reading.say(phrase.text)))
                sound = np.concatenate([silence(1.0), said, silence(1.0)])
                if kind:
                    noise = noise_source(kind, snr, number)(len(sound))
                    sound = to_int16(sound.astype(np.float64) + noise)
                yield sound

        yield spoken


def _tell(results: list[Tried], everything: bool) -> None:
    sure = [one for one in results if one.sure]
    click.echo(f"Heard surely: {len(sure)} of {len(results)}.")
    for one in results:
        if one.sure and not everything:
            continue
        text = f"  {one.own.kind} {one.own.about}, '{one.own.text}': {one.surely} of {one.times}"
        if one.asked:
            text += f"; asked about: {one.asked}"
        for other, times in one.mistaken.most_common(3):
            text += f"; taken for '{other}': {times}"
        if one.missed:
            text += f"; not heard: {one.missed}"
        click.echo(text)


def _tell_words(
    words: list[str], language: Language, ear: Recogniser, mine: Mapping[str, tuple[str, ...]],
    own: list[Own],
) -> None:
    """The words that the dictionary lacks, and how they will be taken to be said."""
    if ear.name == "vosk":
        unknown = set()
        for phrase in own:
            ear.expect(phrase.grammar)
            unknown |= set(phrase.text.split()) & getattr(ear, "unknown_words", set)()
        for word in sorted(unknown):
            click.echo(f"  {word}: the model has no such word, and never will hear it: reword it.")
        return
    if language.code != "en":
        return
    from handsfree.hearing.own.lexicon import dictionary
    from handsfree.hearing.pronunciation import pronounce
    from handsfree.language.confusability import read_dictionary

    known = read_dictionary(dictionary().splitlines())
    guessed = pronounce([word for word in words if word not in known
                         and word not in language.pronunciations and word not in mine])
    rows = [(word, mine[word][0], "as you said") for word in words if word in mine]
    rows += [(word, sounds or "no sound is known for it: give it by --say",
              "as the voice says it; it is in no dictionary")
             for word, sounds in guessed.items()]
    for word, sounds, why in sorted(rows):
        click.echo(f"  {word}: {sounds}  ({why})")
