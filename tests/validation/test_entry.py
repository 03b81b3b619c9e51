"""What a person typed: understood, remarked on, warned about or refused, never guessed."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.definitions.model import ITEM_CHOICES, YES_NO_CHOICES, Field, Kind
from commission.errors import AmbiguousNumberError, ReadingError
from commission.language import speaking
from commission.validation.entry import parse_number, understand


def field(kind: Kind = Kind.NUMBER, **more: object) -> Field:
    content: dict[str, object] = {"name": "x", "label": "Suction pressure", "section": "page"}
    return Field(kind=kind, **(content | more))  # type: ignore[arg-type]


PRESSURE = field(unit="psig", decimals=1, possible=(-14.7, 800.0), plausible=(20.0, 300.0))
TEMPERATURE = field(unit="°F", decimals=1)
DIFFERENCE = field(unit="Δ°F", decimals=1)
BAROMETER = field(unit="psia")
PLAIN = field()


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("118.5", 118.5), ("118,5", 118.5), (" 118.5 ", 118.5), ("-5", -5), ("−5", -5),
        ("+5", 5), ("- 5", -5), (".5", 0.5), (",5", 0.5), ("5.", 5), ("5,", 5), ("0", 0),
        ("0,125", 0.125), ("0.125", 0.125), ("1.234", 1.234), ("1,234", 1234),
        ("1,234.5", 1234.5), ("1.234,5", 1234.5), ("12,345,678", 12345678),
        ("1.234.567", 1234567), ("1 234", 1234), ("1 234,5", 1234.5), ("1'234.5", 1234.5),
        ("1\u202f234", 1234), ("1\u00a0234", 1234), ("1e3", 1000), ("1.5E-3", 0.0015),
        ("2e+2", 200), ("12345.678", 12345.678), ("12345,678", 12345.678),
    ],
)  # fmt: skip
def test_numbers_as_people_type_them(text: str, number: float) -> None:
    assert understand(PLAIN, text).content == pytest.approx(number, rel=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        "abc", "--5", "5..5", "1,2,3", "1.5,3", "1,23.4", "12,34,567.5", "118 5", "1 2 3", "12 3/4",
        "1e400", "-1e400", "nan", "inf", "five", "°", "-", ".", ",", "0x1F", "1_000",
        "=A1", "5;", "12,345,67", "5 5",
    ],
)  # fmt: skip
def test_what_is_no_number_is_refused_with_field_rule_and_cure(text: str) -> None:
    with pytest.raises(ReadingError) as caught:
        understand(PLAIN, text)
    message = str(caught.value)
    assert message.startswith("Suction pressure: ")
    assert "Type" in message


def test_a_mark_taken_for_thousands_is_remarked_on() -> None:
    assert understand(PLAIN, "1,234").remark == "understood as 1,234"
    assert understand(PLAIN, "1.234").remark == ""


@pytest.mark.parametrize(
    ("text", "number", "remark"),
    [
        ("1,2", 1.2, ""), ("118,5", 118.5, ""), ("0,125", 0.125, ""), ("12,3456", 12.3456, ""),
        ("1.2", 1.2, ""), ("1.234", 1.234, "1.234"), ("1,234.5", 1234.5, "1,234.5"),
        ("1.234,5", 1234.5, "1,234.5"), ("12,345,678", 12345678, "12,345,678"),
        ("1234,5", 1234.5, ""),
    ],
)  # fmt: skip
def test_a_comma_is_a_decimal_mark_in_spanish(text: str, number: float, remark: str) -> None:
    with speaking("es"):
        found = understand(PLAIN, text)
    assert found.content == pytest.approx(number, rel=1e-15)
    assert remark in found.remark and bool(remark) == bool(found.remark)


@pytest.mark.parametrize("text", ["1,234", "-12,345", "+999,000", "1,234 psig"])
def test_a_comma_that_may_be_either_is_refused_in_spanish(text: str) -> None:
    plain = text.split()[0]
    with speaking("es"), pytest.raises(AmbiguousNumberError) as caught:
        understand(PRESSURE, text)
    message = str(caught.value)
    assert message.startswith("Suction pressure: ")
    assert plain.replace(",", "") in message and plain.replace(",", ".") in message
    assert understand(PLAIN, plain).remark == f"understood as {plain.replace('-', '−').strip('+')}"


@given(st.floats(-1e9, 1e9))
def test_python_s_own_writing_of_a_number_is_read_exactly(number: float) -> None:
    assert parse_number(repr(number))[0] == number


@given(st.integers(-(10**9), 10**9), st.integers(0, 999), st.sampled_from([",.", ".,", " ,", "'."]))
def test_grouped_numbers_are_read_with_either_mark(whole: int, part: int, marks: str) -> None:
    group, decimal = marks
    text = f"{whole:,}".replace(",", group) + f"{decimal}{part:03d}x"
    number, suffix, _ = parse_number(text)
    sign = "-" if text.startswith("-") else ""
    # "12,345" alone is taken for thousands, and remarked on.
    if decimal == "." or not 0 < abs(whole) < 1000:
        assert number == float(f"{sign}{abs(whole)}.{part:03d}")
    assert suffix == "x"


@given(st.text(max_size=25))
def test_any_text_is_understood_or_refused_with_a_sentence(text: str) -> None:
    for one in (PLAIN, PRESSURE, field(Kind.INTEGER), field(Kind.DATE), field(Kind.TEXT)):
        try:
            found = understand(one, text)
        except ReadingError as error:
            sentence = str(error)
        else:
            sentence = "Suction pressure: understood"
            assert not isinstance(found.content, float) or math.isfinite(found.content)
        assert sentence.startswith("Suction pressure: ")


@pytest.mark.parametrize(
    ("asked", "text", "content", "remark"),
    [
        (PRESSURE, "118 psig", 118.0, ""),
        (PRESSURE, "118 psi", 118.0, "118 psi taken as 118.0 psig"),
        (PRESSURE, "800 kPa", 116.030, "800 kPa taken as 116.0 psig"),
        (PRESSURE, "800kpa", 116.030, "800 kPa taken as 116.0 psig"),
        (TEMPERATURE, "20 C", 68.0, "20 °C taken as 68.0 °F"),
        (TEMPERATURE, "20 deg C", 68.0, "20 °C taken as 68.0 °F"),
        (TEMPERATURE, "68F", 68.0, ""),
        (TEMPERATURE, "68 °F", 68.0, ""),
        (DIFFERENCE, "10 C", 18.0, "10 K taken as 18.0 Δ°F"),
        (DIFFERENCE, "10 F", 10.0, ""),
        (DIFFERENCE, "10 K", 18.0, "10 K taken as 18.0 Δ°F"),
        (BAROMETER, "101.325 kPa", 14.69595, "101.3 kPa abs taken as 14.70 psia"),
        (BAROMETER, "29.92 inHg", 14.6953, "29.92 in. Hg taken as 14.70 psia"),
        (field(unit="in. w.c."), "250 Pa", 1.003658, "250 Pa taken as 1.004 in. w.c."),
        (field(unit="cfm"), "1000 l/s", 2118.88, "1,000 L/s taken as 2,119 cfm"),
        (field(unit="%"), "3.4 %", 3.4, ""),
    ],
)
def test_a_typed_unit_is_converted_and_says_so(
    asked: Field, text: str, content: float, remark: str
) -> None:
    found = understand(asked, text)
    assert found.content == pytest.approx(content, rel=1e-5)
    assert found.remark == remark


@pytest.mark.parametrize(
    ("asked", "text", "message"),
    [
        (PRESSURE, "118 V", "V does not measure what is asked. Type the number in psig"),
        (PRESSURE, "118 psia", "psia does not measure what is asked"),
        (BAROMETER, "118 psig", "psig does not measure what is asked"),
        (PRESSURE, "118 furlong", "'furlong' is not a unit known here"),
        (PLAIN, "118 V", "V does not measure what is asked. Type the number in plain figures"),
    ],
)
def test_a_unit_of_another_kind_is_refused(asked: Field, text: str, message: str) -> None:
    with pytest.raises(ReadingError, match="Suction pressure: ") as caught:
        understand(asked, text)
    assert message in str(caught.value)


def test_in_a_metric_project_a_bare_number_is_metric() -> None:
    found = understand(TEMPERATURE, "20", "SI")
    assert found.content == pytest.approx(68)
    assert found.remark == ""
    assert understand(TEMPERATURE, "68 F", "SI").remark == "68 °F taken as 20 °C"


def test_impossible_values_are_refused_with_the_bounds() -> None:
    with pytest.raises(ReadingError) as caught:
        understand(PRESSURE, "8000")
    assert str(caught.value) == (
        "Suction pressure: 8,000 psig cannot be; it lies between −14.70 and 800 psig. "
        "Check the number and its unit."
    )
    assert understand(PRESSURE, "800").content == 800
    assert understand(PRESSURE, "-14.7").content == -14.7


def test_in_a_metric_project_the_bounds_are_told_in_metric() -> None:
    with pytest.raises(ReadingError) as caught:
        understand(PRESSURE, "9000", "SI")
    message = str(caught.value)
    assert "9,000 kPa cannot be" in message
    assert "psig" not in message


def test_a_possible_but_unusual_value_is_kept_and_warned_about() -> None:
    found = understand(PRESSURE, "816 kPa")
    assert found.warning == ""
    odd = understand(PRESSURE, "5.0")
    assert odd.content == 5.0
    assert odd.warning == (
        "5.0 psig is unusual here (20 to 300 psig is usual). A slip of unit or digit?"
    )


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("n/a no port fitted", "no port fitted"), ("N/A: no port", "no port"),
        ("n / a - none", "none"), ("n/a, none", "none"), ("n/a – none", "none"),
    ],
)  # fmt: skip
def test_not_applicable_carries_its_reason(text: str, reason: str) -> None:
    for asked in (
        PLAIN,
        field(Kind.CHOICE, choices=("a", "b")),
        field(Kind.DATE),
        field(Kind.TEXT),
    ):
        found = understand(asked, text)
        assert (found.not_applicable, found.content) == (reason, None)


@pytest.mark.parametrize("text", ["n/a", "N/A", "n / a.", "n/a:"])
def test_not_applicable_without_a_reason_asks_for_it(text: str) -> None:
    with pytest.raises(ReadingError, match="'n/a' needs its reason"):
        understand(PLAIN, text)


@pytest.mark.parametrize("text", ["", "   ", "\t"])
def test_an_empty_text_clears(text: str) -> None:
    found = understand(PRESSURE, text)
    assert (found.content, found.not_applicable) == (None, "")


@pytest.mark.parametrize(
    ("choices", "text", "choice"),
    [
        (YES_NO_CHOICES, "yes", "yes"), (YES_NO_CHOICES, "YES", "yes"),
        (YES_NO_CHOICES, "y", "yes"),
        (YES_NO_CHOICES, "n", "no"), (ITEM_CHOICES, "d", "done"), (ITEM_CHOICES, "not", "not done"),
        (("1", "10"), "1", "1"), (("R-410A", "R-407C"), "r-410a", "R-410A"),
    ],
)  # fmt: skip
def test_choices_by_their_beginning(choices: tuple[str, ...], text: str, choice: str) -> None:
    assert understand(field(Kind.CHOICE, choices=choices), text).content == choice


@pytest.mark.parametrize(
    ("choices", "text", "message"),
    [
        (("R-410A", "R-407C"), "R-4", "'R-4' is none of R-410A, R-407C."),
        (("R-410A", "R-407C"), "R410A", "Did you mean 'R-410A'?"),
        (YES_NO_CHOICES, "maybe", "'maybe' is none of yes, no."),
        (("gas", "electric"), "\x00", "is none of"),
    ],
)
def test_a_text_that_fits_no_choice_or_several_is_refused(
    choices: tuple[str, ...], text: str, message: str
) -> None:
    with pytest.raises(ReadingError, match="Suction pressure: ") as caught:
        understand(field(Kind.CHOICE, choices=choices), text)
    assert message in str(caught.value)


def test_whole_numbers() -> None:
    asked = field(Kind.INTEGER)
    assert understand(asked, "2").content == 2.0
    assert understand(asked, "2.0").content == 2.0
    with pytest.raises(ReadingError, match=r"2\.5.* is not a whole number\. Type it without"):
        understand(asked, "2.5")


def test_dates_and_times_are_kept_in_one_form() -> None:
    assert understand(field(Kind.DATE), "2026-03-31").content == "2026-03-31"
    assert understand(field(Kind.TIME), "14:05").content == "14:05:00"
    for kind, text in ((Kind.DATE, "31/3/2026"), (Kind.DATE, "2026-02-30"), (Kind.TIME, "25:00")):
        with pytest.raises(ReadingError, match=f"is no {kind}. Type it like"):
            understand(field(kind), text)


def test_texts_are_kept_as_typed_up_to_a_length() -> None:
    assert understand(field(Kind.NOTE), " =SUM(A1) <b>x</b> ").content == "=SUM(A1) <b>x</b>"
    with pytest.raises(ReadingError, match="4,001 characters; at most 4,000"):
        understand(field(Kind.NOTE), "x" * 4001)
