"""What is written is said as a tradesman would say it; what is unknown stays as it is."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import AuthorError, InputError
from handsfree.speaking.normalisation_table import load_normaliser, parse_table

ENGLISH = load_normaliser("en")
KOREAN = load_normaliser("ko")

QUANTITIES = {
    "50 A": "fifty amps",
    "30 A outlet": "thirty amp outlet",
    "30-A cords": "thirty amp cords",
    "1 A": "one amp",
    "12 V": "twelve volts",
    "120V": "one hundred twenty volts",
    "13.6 V": "thirteen point six volts",
    "13.05 V": "thirteen point zero five volts",
    "3600 W": "three thousand six hundred watts",
    "5,000 lb": "five thousand pounds",
    "50 psi": "fifty P S I",
    "50 to 60 psi": "fifty to sixty P S I",
    "50-60 psi": "fifty to sixty P S I",
    "50–60 PSI": "fifty to sixty P S I",
    "3/4 in": "three quarters of an inch",
    "¾ in": "three quarters of an inch",
    "1/2 in": "half an inch",
    "1/4 in": "a quarter of an inch",
    "1/8 in/ft": "an eighth of an inch per foot",
    "3/4 in hose": "three quarter inch hose",
    "1/2 in pipe": "half inch pipe",
    "2 1/2 in": "two and a half inches",
    "2½ in": "two and a half inches",
    "1-1/2 in": "one and a half inches",
    "1 3/4 in hose": "one and three quarter inch hose",
    "10 ft": "ten feet",
    "1 ft": "one foot",
    '3/4"': "three quarters of an inch",
    "10'": "ten feet",
    "3°": "three degrees",
    "1°": "one degree",
    "-4 °F": "minus four degrees Fahrenheit",
    "20 °C": "twenty degrees Celsius",
    "80 %": "eighty percent",
    "80%": "eighty percent",
    "10 AWG": "ten gauge",
    "90 ft-lb": "ninety foot pounds",
    "10 min": "ten minutes",
    "(5 A)": "(five amps)",
    "Raise 3 in.": "Raise three inches.",
}

OTHERS = {
    "1/2": "a half",
    "3/4": "three quarters",
    "2/3": "two thirds",
    "3/7": "three over seven",
    "Turn 1/4 turn.": "Turn a quarter turn.",
    "Step 3, then 4.": "Step three, then four.",
    "fifty psi": "fifty P S I",
    "LP gas": "L P gas",
    "The CO alarm": "The C O alarm",
    "WD bars": "weight distribution bars",
    "GFCI outlet": "G F C I outlet",
    "the AC breaker": "the A.C. breaker",
    "approx. 5 lb": "about five pounds",
    "2 x 6 plank": "two by six plank",
    "7-way plug": "seven-way plug",
    "the 1st and 22nd": "the first and twenty-second",
    "at 10:30": "at ten thirty",
    "at 10:05": "at ten oh five",
    "at 7:00": "at seven o'clock",
    "Call 911": "Call nine one one",
    "A & B": "A and B",
    "≥ 15 dB": "at least fifteen decibels",
    "0123": "zero one two three",
    "12345678": "one two three four five six seven eight",
    # What looks like a unit and is none.
    "Put 2 in the box": "Put two in the box",
    "1 in 12": "one in twelve",
    "A wheel": "A wheel",
    # What is no number of ours.
    "R134a": "R134a",
    "1.2.3": "1.2.3",
    "1/2/2024": "1/2/2024",
    "COUNT": "COUNT",
    "Chock both wheels.": "Chock both wheels.",
}


@pytest.mark.parametrize(("written", "said"), (QUANTITIES | OTHERS).items())
def test_english(written: str, said: str) -> None:
    assert ENGLISH.say(written) == said


@pytest.mark.parametrize(
    ("written", "said"),
    {
        "50 A": "오십 암페어",
        "30 A를 확인하세요": "삼십 암페어를 확인하세요",
        "50-60 psi": "오십에서 육십 피에스아이",
        "1.5 V": "일 점 오 볼트",
        "3/4": "사분의 삼",
        "-5 °C": "마이너스 오 도",
        "바퀴 3개": "바퀴 3개",  # a counted thing: the engine knows its numeral
    }.items(),
)
def test_korean(written: str, said: str) -> None:
    assert KOREAN.say(written) == said


@pytest.mark.parametrize("written", QUANTITIES)
def test_quantities_are_said_the_same_inside_a_sentence(written: str) -> None:
    said = ENGLISH.say(written.rstrip("."))
    assert (
        ENGLISH.say(f"We read {written.rstrip('.')}, then stop.") == f"We read {said}, then stop."
    )


@pytest.mark.parametrize("written", QUANTITIES | OTHERS)
def test_what_is_said_does_not_change_when_read_again(written: str) -> None:
    said = ENGLISH.say(written)
    assert ENGLISH.say(said) == said


@given(st.text(st.sampled_from("0123456789/-–.,: 'AVinftps\"%°½x×Ωab바"), max_size=24))
def test_no_text_breaks_it(text: str) -> None:
    for reader in (ENGLISH, KOREAN):
        assert isinstance(reader.say(text), str)


@given(st.integers(0, 999_999), st.sampled_from(["A", "V", "psi", "ft", "%"]))
def test_no_digit_is_left_of_a_quantity(number: int, unit: str) -> None:
    for reader in (ENGLISH, KOREAN):
        assert not any(c.isdigit() for c in reader.say(f"{number} {unit}"))


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("reading_aloud: [", 1, "not YAML"),
        ("other: 1", 0, "reading_aloud"),
        ("", 0, "reading_aloud"),
        ("reading_aloud:\n  numbers: en\n  unitz: {}", 3, "unitz"),
        ("reading_aloud:\n  numbers: en\n  units: [A]", 3, "units"),
        ("reading_aloud:\n  numbers: 5", 2, "numbers"),
        ("reading_aloud:\n  numbers: en\n  units: {A: {single: amp}}", 3, "units"),
        ("reading_aloud:\n  numbers: en", 0, "point"),
    ],
)
def test_a_table_that_is_wrong_names_file_line_and_mend(text: str, line: int, what: str) -> None:
    with pytest.raises(AuthorError, match=what) as caught:
        parse_table(text, "my.yaml")
    assert caught.value.line == line
    assert str(caught.value).startswith(f"my.yaml, line {line}: " if line else "my.yaml: ")
    assert caught.value.mend


def test_a_language_without_a_table_is_said(tmp_path: Path) -> None:
    for arguments in ({"language": "xx"}, {"file": tmp_path / "absent.yaml"}):
        with pytest.raises(InputError, match="cannot be read"):
            load_normaliser(**arguments)
