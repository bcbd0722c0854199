"""German, the third language: units before tens, joined words, gender, comma decimals."""

from fractions import Fraction
from pathlib import Path

import pytest
from num2words import num2words

from handsfree.checklist.loader import load_checklist
from handsfree.language.intents import Command
from handsfree.language.loader import load_language
from handsfree.language.matcher import Expected, Matcher
from handsfree.language.model import COMMANDS
from handsfree.language.numbers import parse_number
from handsfree.language.readings import Reading, parse_reading, say_reading
from handsfree.language.verbalising import say_number
from handsfree.rehearsal.script import Script
from handsfree.speaking.normalisation_table import load_normaliser
from handsfree.testing import talk

DE = load_language("de")


def test_every_whole_number_is_understood_as_another_library_writes_it() -> None:
    for n in [*range(1_000), *range(1_000, 100_000, 787)]:
        assert parse_number(num2words(n, lang="de"), DE) == (Fraction(n),), n


def test_what_is_said_is_understood_as_it_was_meant() -> None:
    for tenths in range(-200, 3_000, 7):
        value = Fraction(tenths, 10)
        assert value in parse_number(say_number(value, DE), DE), say_number(value, DE)


@pytest.mark.parametrize(("said", "value"), [
    ("hundert achtzehn", 118), ("einhundertachtzehn", 118), ("drei und zwanzig", 23),
    ("eins eins acht", 118), ("zwo drei null", 230), ("tausend zwei hundert", 1_200),
    ("zweieinhalb", Fraction(5, 2)), ("zwei und ein viertel", Fraction(9, 4)),
    ("dreizehn komma sechs", Fraction(68, 5)), ("minus fünf", -5), ("drei viertel", Fraction(3, 4)),
])
def test_numbers_as_people_and_recognisers_put_them(said: str, value: Fraction) -> None:
    assert parse_number(said, DE)[0] == value


@pytest.mark.parametrize("said", ["", "und", "komma", "einzwanzig und", "zwanzig ein und"])
def test_what_is_no_number_is_none(said: str) -> None:
    assert parse_number(said, DE) == ()


@pytest.mark.parametrize(("value", "unit", "said"), [
    (118, "volts", "hundertachtzehn volt"), (1, "volts", "ein volt"),
    (1, "minutes", "eine minute"), (-1, "minutes", "minus eine minute"),
    (10, "minutes", "zehn minuten"), (30, "feet", "dreißig fuß"),
    (Fraction(27, 2), "volts", "dreizehn komma fünf volt"), (1, "days", "ein tag")])
def test_readings_have_their_gender_and_their_sharp_s(value: Fraction, unit: str, said: str) -> None:
    reading = Reading(Fraction(value), unit)
    assert say_reading(reading, DE) == said
    assert parse_reading(said, DE, unit) == (reading,)


def test_every_wording_means_its_command() -> None:
    matcher = Matcher(DE)
    everything = Expected(frozenset(COMMANDS))
    for command in COMMANDS:
        for phrase in DE.commands[command]:
            assert matcher.interpret(phrase, everything) == Command(command)


@pytest.mark.parametrize(("text", "said"), [
    ("13,6 V an der Batterie", "dreizehn Komma sechs Volt an der Batterie"),
    ("1.200 W", "eintausendzweihundert Watt"), ("50-60 %", "fünfzig bis sechzig Prozent"),
    ("um 15:30", "um fünfzehn Uhr dreißig"), ("3 in der Kiste", "drei in der Kiste"),
    ("2 1/2 bar", "zwei und ein halber Bar"), ("-5 °C", "minus fünf Grad Celsius")])
def test_german_is_read_aloud(text: str, said: str) -> None:
    assert load_normaliser("de").say(text) == said


LIST = """\
title: Ankommen
language: de
closing: Schönen Abend.
facts:
  chocked: {says: die Räder sind verkeilt, otherwise: die Räder sind nicht verkeilt}
  hitched: {says: der Anhänger hängt am Wagen, otherwise: der Anhänger steht allein, start: true}
never:
  - {id: roll, when: not hitched and not chocked, because: der Anhänger könnte wegrollen,
     now: Weg da., respond: anhänger steht fest, gives: chocked}
steps:
  - {id: keile, do: Verkeile beide Räder., respond: keile liegen, gives: chocked}
  - {id: spannung, do: Lies die Spannung vor., reading: {of: volts, between: [207, 253]}}
  - {id: abfahren, do: Fahr den Wagen weg., needs: chocked, ends: hitched}
"""


def test_a_whole_conversation_is_german(tmp_path: Path) -> None:
    path = tmp_path / "ankommen.yaml"
    path.write_text(LIST, encoding="utf-8")
    told = talk(load_checklist(path), DE, Script(
        at={"keile": ("gehe zu abfahren",)}, readings={"spannung": ("zwo drei null volt",)}))
    words = told.words_of("program")
    assert words[-1] == "Ankommen: vollständig. Schönen Abend."
    assert ("Stopp. Abfahren muss warten: die Räder sind nicht verkeilt."
            " Der Anhänger könnte wegrollen. Zuerst, keile.") in words
    assert "Zweihundertdreißig volt. Ist das richtig?" in words
    assert "Keile liegen. Ist das richtig?" in words
