"""A table as a hand types or pastes it: understood, or refused with every fault told."""

from __future__ import annotations

import pytest

from commission.definitions.model import Axis, Field, Kind
from commission.engineering.chart import from_text
from commission.errors import ReadingError
from commission.validation.entry import understand
from commission.validation.table_entry import shown_chart

FAN = Field(
    "fan_speed_table",
    "Fan table",
    Kind.TABLE,
    "air",
    rows=Axis("Airflow", "cfm", 0),
    columns=Axis("External static", "in. w.c.", 2),
    body=Axis("Fan speed", "rpm", 0),
    possible=(10, 6000),
)
CHART = Field(
    "chart", "Chart", Kind.TABLE, "air", rows=Axis("Outdoor", "°F"), body=Axis("Subcooling", "Δ°F")
)
KEPT = "/\t0.2\t0.4\n1600\t600\n2000\t700\t800"


@pytest.mark.parametrize(
    "text",
    [
        "\t0.2\t0.4\n1600\t600\t\n2000\t700\t800",
        "/\t0.2\t0.4\n1600\t600\n2000\t700\t800",
        "cfm\t0,2\t0,4\r\n1600\t600\t-\r\n2000\t700\t800\r\n",
        "0.2\t0.4\n1600\t600\t–\n2000\t700\t800",
        "cfm;0,2;0,4\n1600;600;\n2000;700;800",
        "cfm | 0.2 | 0.4\n1,600 | 600 | \n2,000 | 700 | 800",
        "0.2 0.4\n1,600 600 -\n2,000 700 800",
        ",0.2,0.4\n2000,700,800\n1600,600,",
        "\t0.4\t0.2\t\n2000\t800\t700\t\n1600\t\t600\t",
    ],
)
def test_forms_of_one_table(text: str) -> None:
    assert understand(FAN, text).content == KEPT


def test_one_direction_with_and_without_a_heading() -> None:
    for text in ("Outdoor\tSubcooling\n85\t10\n95\t11.5", "85\t10\n95\t11,5", "85 10\n95 11.5"):
        assert understand(CHART, text).content == "85\t10\n95\t11.5"


def test_what_was_moved_is_said() -> None:
    meant = understand(FAN, "\t0.4\t0.2\n2000\t800\t700\n1600\t700\t600")
    assert meant.remark == (
        "2 rows × 2 columns; rows put in rising order; columns put in rising order"
    )


def test_every_fault_is_told_with_its_place() -> None:
    with pytest.raises(ReadingError) as raised:
        understand(FAN, "\t0.2\t0.4\n1600\tabc\t9999\n\t600\t700\n2000\t1\t700\t800")
    for words in (
        "row 1600, column 0.2: 'abc' is not a number",
        "row 1600, column 0.4: 9,999 rpm cannot be (10 rpm to 6,000 rpm)",
        "a row has values but no Airflow",
        "row 2000 has 3 values for 2",
    ):
        assert words in str(raised.value)
    assert str(raised.value).startswith("Fan table: ")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("100\t0.2\n1600\t600", "its corner left empty; '100' stands there"),
        ("\t0.2\n1600\t600\n1600\t700", "row 1600 stands after 1600"),
        ("\t0.2\n1600\t", "no value"),
        ("x" * 70_000, "at most 60,000"),
        ("n/a", "needs its reason"),
    ],
)
def test_what_cannot_be_meant_is_refused(text: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        understand(FAN, text)


def test_empty_clears_and_not_applicable_keeps_its_reason() -> None:
    assert understand(FAN, " \n").content is None
    assert understand(FAN, "n/a none published").not_applicable == "none published"


def test_si_is_converted_and_shown_back_as_typed() -> None:
    """1 m³/h is 0.588578 cfm (35.3147 ft³ in a m³, NIST SP 811); 1 in. w.c. is 249.089 Pa."""
    typed = "/\t50\t100\n1000\t600\t700\n1200\t700\t800"
    kept = from_text(str(understand(FAN, typed, "SI").content))
    assert kept.columns[0] == pytest.approx(50 / 249.08891)
    assert shown_chart(FAN, kept.to_text(), "SI").to_text() == typed
    assert shown_chart(FAN, kept.to_text(), "IP") == kept
