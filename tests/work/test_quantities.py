"""Typed values with units: what is read, what is refused, and how."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.errors import InputError
from handsfree.work.quantities import KINDS, gauge, measure, shown


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [("96 in", "in", 96), ('96"', "in", 96), ("96 inches", "in", 96), ("2.4 m", "in", 94.48819),
     ("8 ft 2 in", "in", 98), ("8' 2\"", "in", 98), ("2 1/2 in", "in", 2.5), ("3/4 in.", "in", .75),
     (".5 in", "in", 0.5), ("118 V", "v", 118), ("118 volts", "v", 118), ("118v", "v", 118),
     ("30 amps", "a", 30), ("30 A", "a", 30), ("1,800 W", "w", 1800), ("1.8 kW", "w", 1800),
     ("1800 VA", "w", 1800), ("-2 deg", "deg", -2), ("minus 2 degrees", "deg", -2),
     ("2°", "deg", 2),
     ("70 F", "f", 70), ("20 C", "f", 68), ("minus 40 degrees C", "f", -40), ("55 PSI", "psi", 55),
     ("3.5 bar", "psi", 50.7632), ("6 %", "percent", 6), ("6 percent", "percent", 6),
     ("2,700 kg", "lb", 5952.481), ("6000 pounds", "lb", 6000), ("151 litres", "gal", 39.89),
     ("1 hour 30 minutes", "min", 90), ("50 mg/L", "ppm", 50), ("12 Ah", "ah", 12)],
)  # fmt: skip
def test_reads(text: str, kind: str, value: float) -> None:
    assert measure(text, kind) == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("96", "in"), ("in", "in"), ("", "in"), ("118 V", "in"), ("96 in", "v"), ("1/0 in", "in"),
     ("96 in 2", "in"), ("96 in -2 in", "in"), ("1.5.2 in", "in"), ("5 in in", "in"),
     ("70 degrees", "f"), ("70 F 3 F", "f"), ("30 Hz", "a"), ("5 blocks", "in"), ("5 //", "in"),
     ("nan in", "in"), ("inf in", "in"), ("9" * 400 + " in", "in"), ("1e3 in", "in")],
)  # fmt: skip
def test_refuses_in_one_sentence(text: str, kind: str) -> None:
    with pytest.raises(InputError) as caught:
        measure(text, kind, "track")
    message = str(caught.value)
    assert message.startswith("Track needs ") and KINDS[kind][1] in message
    assert message.endswith(".") and "\n" not in message and len(message) < 120


@given(st.text(max_size=30), st.sampled_from(sorted(KINDS)))
@settings(deadline=None)
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    try:
        assert abs(measure(text, kind)) < float("inf")
    except InputError:
        pass


@given(
    st.text(alphabet="0123456789 ./,-'\"°%invAVWkgFCdegps", max_size=14),
    st.sampled_from(sorted(KINDS)),
)
@settings(deadline=None)
def test_likely_text_is_read_or_refused(text: str, kind: str) -> None:
    try:
        assert abs(measure(text, kind)) < float("inf")
    except InputError:
        pass


@given(
    st.floats(0.01, 9999).map(lambda x: round(x, 3)),
    st.sampled_from(
        [("in", "cm", 2.54), ("ft", "m", 0.3048), ("lb", "kg", 0.45359237),
         ("psi", "kPa", 6.894757)]
    ),
)
@settings(deadline=None)
def test_there_and_back(value: float, units: tuple[str, str, float]) -> None:
    kind, metric, factor = units
    assert measure(f"{value} {kind}", kind) == pytest.approx(value)
    assert measure(f"{value * factor:.9f} {metric}", kind) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize("text", ["10 AWG", "10 gauge", "#10", "10", " 10 awg ", "10 ga."])
def test_gauge(text: str) -> None:
    assert gauge(text) == 10


@pytest.mark.parametrize("text", ["", "ten", "10 mm", "1/0 AWG", "-10", "10.5 AWG"])
def test_no_gauge(text: str) -> None:
    with pytest.raises(InputError, match="such as 10 AWG"):
        gauge(text)


def test_shown() -> None:
    assert shown(3.352, "in") == "3.4 in"
    assert shown(1500.0, "W") == "1,500 W"
    assert shown(200, "lb", 0) == "200 lb"
