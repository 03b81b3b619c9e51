"""`commission tests`: signals, tests with how they stand, steps; status 1 when one fails."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.__main__ import main
from commission.commands import BAD_INPUT, FINE, FOUND
from commission.definitions.load import load_form
from commission.validation.session import Session


@pytest.fixture
def project(tmp_path: Path) -> Path:
    path = tmp_path / "gas.rtuproject"
    with Session.create(path, load_form(), "Depot") as session:
        unit = session.add_unit("RTU-1")
        session.add_unit("RTU-2")
        for name, text in (("heat_type", "gas"), ("gas_valve", "two stage"),
                           ("cooling_stages", "2"), ("phases", "3"),
                           ("economizer", "none")):  # fmt: skip
            session.enter(unit.id, name, (), text)
    return path


def test_signals_and_tests_of_one_unit(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tests", str(project), "--unit", "rtu-1"]) == FINE
    printed = capsys.readouterr().out
    assert "RTU-1: signals" in printed and "RTU-2" not in printed
    for terminal in ("R  ", "G  ", "Y1 ", "Y2 ", "W1 ", "W2 "):
        assert f"\n{terminal}" in printed
    assert "not yet done" in printed and "Low to high fire" in printed
    assert "  Electric heat stage: not fitted" in printed
    assert "  Duct smoke detector: not answered yet: Duct smoke detector wired" in printed
    assert "Must run" not in printed


def test_the_steps_on_request(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["tests", str(project), "--unit", "RTU-1", "--steps"])
    printed = capsys.readouterr().out
    assert "    Call: Heating stages 1 and 2 together (R to W1, W2)" in printed
    assert "    Must run, in this order: igniter, gas valve, flame, indoor fan" in printed
    assert "    Mark: Flame proved: Ignition trial" in printed


def test_a_stop_is_said_with_what_to_do(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Session.open(project, load_form()) as session:
        unit = session.units()[0].id
        session.enter(unit, "flame_lost_shuts_gas", (), "no")
    assert main(["tests", str(project)]) == FOUND
    printed = capsys.readouterr().out
    assert "  STOP Flame lost: Flame lost: gas valve closed" in printed
    assert "Keep the gas shut: unburned gas goes on without a flame." in printed


def test_an_unknown_unit_is_bad_input(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["tests", str(project), "--unit", "RTU-9"]) == BAD_INPUT
    assert "no unit 'RTU-9'" in capsys.readouterr().err
