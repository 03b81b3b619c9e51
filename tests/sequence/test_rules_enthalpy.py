"""Enthalpy over columns against psychrolib (ASHRAE Handbook - Fundamentals, chapter 1)."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from commission.sequence.rules_enthalpy import enthalpy_btulb


@pytest.mark.parametrize("barometer_psia", [14.696, 12.2])
def test_agrees_with_psychrolib(barometer_psia: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.IP)
    dry, humid = np.meshgrid(np.linspace(-20, 120, 15), np.linspace(5, 100, 8))
    dry, humid = dry.ravel().astype(np.float32), humid.ravel().astype(np.float32)
    got = enthalpy_btulb(dry, humid, barometer_psia)
    for t, rh, h in zip(dry.tolist(), humid.tolist(), got.tolist(), strict=True):
        ratio = psychrolib.GetHumRatioFromRelHum(t, rh / 100, barometer_psia)
        # Columns are float32: 7 digits of some 100 Btu/lb.
        assert h == pytest.approx(psychrolib.GetMoistAirEnthalpy(t, ratio), abs=2e-3)


def test_what_cannot_be_is_not_known() -> None:
    got = enthalpy_btulb(
        np.array([70, 70, np.nan, 900], np.float32), np.array([-1, 101, 50, 50], np.float32), 14.7
    )
    assert np.isnan(got).all()
