"""Voice and recogniser: the one speaks, the other hears it, without any sound card.

May import the voices' port, hearing's types, the language and the sample format.
"""

from __future__ import annotations

import time

import numpy as np

from handsfree.audio import level_dbfs, seconds, silence
from handsfree.doctor.finding import Finding, Verdict
from handsfree.errors import HandsfreeError
from handsfree.hearing.types import Grammar, Hypothesis, Recogniser, normal
from handsfree.language.model import Language
from handsfree.speaking.voice import Voice

TRIED = ("done", "skip", "repeat", "pause", "remaining")
"""Commands that the recogniser is tried with."""


def voice(speaker: Voice, language: Language) -> Finding:
    """Whether the voice speaks the language, and how fast it is ready."""
    words = language.commands["repeat"][0]
    began = time.monotonic()
    try:
        sound = speaker.render(words)
    except HandsfreeError as problem:
        return Finding("voice", Verdict.BAD, "it does not speak", str(problem))
    took = time.monotonic() - began
    if not len(sound) or level_dbfs(sound) < -60:
        return Finding("voice", Verdict.BAD, "it gives no sound",
                       f"install a voice for {language.name} (espeak-ng comes with the program).")
    return Finding("voice", Verdict.GOOD,
                   f"{language.name}, {seconds(sound):.1f} s of speech ready in {took:.1f} s")


def recogniser(ear: Recogniser, speaker: Voice, language: Language) -> Finding:
    """Whether the recogniser hears taught commands spoken by a synthesised voice, in silence."""
    commands = {name: normal(language.commands[name][0]) for name in TRIED}
    ear.expect(Grammar(frozenset(commands.values())))
    wrong = []
    began = time.monotonic()
    for phrase in commands.values():
        sound = np.concatenate([silence(0.3), speaker.render(phrase), silence(0.5)])
        ear.begin()
        ear.feed(sound)
        heard = ear.finish()
        if not isinstance(heard, Hypothesis) or normal(heard.text) != phrase:
            wrong.append(phrase)
    each = (time.monotonic() - began) / len(commands)
    says = (f"heard {len(commands) - len(wrong)} of {len(commands)} spoken commands,"
            f" {each:.1f} s each")
    if len(wrong) == len(commands):
        return Finding("recognizer", Verdict.BAD, says,
                       "choose another recognizer with --engine, or another --model.")
    if wrong:
        return Finding("recognizer", Verdict.NOTE, f"{says}; not: {', '.join(wrong)}",
                       "synthetic voices are harder for it than yours; try it by 'handsfree try'.")
    return Finding("recognizer", Verdict.GOOD, says)
