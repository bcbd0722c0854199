"""Voice and recogniser: the one speaks, the other hears it, without any sound card.

May import the voices' port, hearing's listener and types, the language and the sample format.
"""

from __future__ import annotations

import time

import numpy as np

from handsfree.audio import level_dbfs, seconds, silence, to_int16
from handsfree.doctor.finding import Finding, Verdict
from handsfree.errors import HandsfreeError
from handsfree.hearing.listening import Listener
from handsfree.hearing.types import Grammar, Hypothesis, Recogniser, normal
from handsfree.language.model import Language
from handsfree.speaking.voice import Voice

HISS = 8.0
"""Of the quiet room, in steps of a 16-bit sample (RMS): -72 dBFS."""

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
    """Whether taught commands of a synthesised voice, in a quiet room, come through the speech gate
    and are heard."""
    commands = {name: normal(language.commands[name][0]) for name in TRIED}
    wrong, shut = [], 0
    began = time.monotonic()
    for phrase in commands.values():
        listener = Listener(ear)
        listener.expect(Grammar(frozenset(commands.values())))
        sound = np.concatenate([silence(1.0), speaker.render(phrase), silence(1.5)])
        hiss = np.random.default_rng(1).normal(0.0, HISS, len(sound))
        heard = listener.feed(to_int16(sound + hiss)) or listener.flush()
        shut += heard is None
        if not isinstance(heard, Hypothesis) or normal(heard.text) != phrase:
            wrong.append(phrase)
    each = (time.monotonic() - began) / len(commands)
    says = (f"heard {len(commands) - len(wrong)} of {len(commands)} spoken commands,"
            f" {each:.1f} s each")
    if shut == len(commands):
        return Finding("recognizer", Verdict.BAD, "the speech gate opened for no spoken command",
                       "install the program anew; its models/gate.npz may be damaged.")
    if len(wrong) == len(commands):
        return Finding("recognizer", Verdict.BAD, says,
                       "choose another recognizer with --engine, or another --model.")
    if wrong:
        return Finding("recognizer", Verdict.NOTE, f"{says}; not: {', '.join(wrong)}",
                       "synthetic voices are harder for it than yours; try it by 'handsfree try'.")
    return Finding("recognizer", Verdict.GOOD, says)
