"""Every sentence of the calculations can be said, and none is dead."""

from __future__ import annotations

import re
from dataclasses import FrozenInstanceError

import pytest

from handsfree.cli.measures import wording
from handsfree.work.finding import METRIC, US, Finding, Verdict, sentence, worst
from handsfree.work.water import water_weight
from tests.work.cases import every_finding

FINDINGS = every_finding()


def test_the_cases_say_every_sentence_and_no_other() -> None:
    assert {finding.say for finding in FINDINGS} == set(wording()["say"])


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda f: f.say)
def test_a_sentence_is_complete_and_short(finding: Finding) -> None:
    said = sentence(finding, wording())
    assert "{" not in said and "None" not in said
    assert said[0].isupper() or said[0].isdigit()
    assert said.endswith(".")
    # Two or three clauses of what one can hold in mind while the hands are busy.
    assert len(said.split()) <= 24
    for part in re.split(r"[.:]\s", said):
        assert len(part.split()) <= 15
    for system in (US, METRIC):  # a unit stands once behind its number
        assert not re.search(r"\b(\w+?)s? \1s?\b", sentence(finding, wording(), system).lower()), said
    # A number is said to a decimal, not to every digit there is.
    assert not re.search(r"\d\.\d{3}", said)


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda f: f.say)
def test_a_stop_tells_what_not_to_do_and_an_ok_does_not(finding: Finding) -> None:
    said = sentence(finding, wording()).lower()
    if finding.verdict is Verdict.OK:
        assert "do not" not in said
    assert finding.basis


def test_every_caution_defers_or_says_look() -> None:
    for caution in wording()["cautions"].values():
        assert re.search(r"come first|comes first|look outside", caution.lower())


def test_each_term_that_fills_a_sentence_has_a_word() -> None:
    terms = {"left", "right", "front", "rear"}
    for finding in FINDINGS:
        for name in ("low", "what", "wiring", "near"):
            if (term := finding.values().get(name)) is not None:
                terms.add(str(term))
    assert terms <= set(wording()["words"])


def test_values_carry_their_twin() -> None:
    values = water_weight(10).values()
    assert values["volume_l"] == pytest.approx(37.85411784)
    assert values["weight_kg"] == pytest.approx(83.45 * 0.45359237)
    assert "verdict" not in values and "basis" not in values


def test_a_zero_decimal_is_not_said() -> None:
    words = {"say": {"water.weight": "{weight_lb:.1f} and {volume_gal:.1f}"}}
    assert sentence(water_weight(0), words) == "0 and 0"
    assert sentence(water_weight(10), words) == "83.5 and 10"


def test_another_language_needs_no_code() -> None:
    words = {"say": {"level.fore.up": "{low}: {move_cm:.0f} cm"}, "words": {"front": "vorn"}}
    raised = next(f for f in FINDINGS if f.say == "level.fore.up")
    assert sentence(raised, words) == "vorn: 21 cm"


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda f: f.say)
def test_no_sentence_names_a_unit_of_its_own(finding: Finding) -> None:
    """Told in metric units, none has a customary one left in it."""
    said = sentence(finding, wording(), METRIC)
    assert not re.search(r"\b(inch|foot|feet|pound|psi|P S I|gallon|mile|BTU)", said)


def test_the_worst_verdict_wins() -> None:
    assert worst(Verdict.OK, Verdict.STOP, Verdict.CAUTION) is Verdict.STOP
    assert worst(Verdict.CAUTION, Verdict.OK) is Verdict.CAUTION
    assert worst() is Verdict.OK


def test_a_finding_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        water_weight(1).weight_lb = 0  # type: ignore[misc]
