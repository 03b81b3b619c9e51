"""Enthalpy of moist air over whole columns, for enthalpy changeover."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_C = (-1.0214165e4, -4.8932428, -5.3765794e-3, 1.9202377e-7, 3.5575832e-10, -9.0344688e-14,
      4.1635019)  # fmt: skip
_D = (-1.0440397e4, -1.1294650e1, -2.7022355e-2, 1.2890360e-5, -2.4780681e-9, 0.0, 6.5459673)


def enthalpy_btulb(
    dry_bulb_f: NDArray[np.float32], rh_percent: NDArray[np.float32], barometer_psia: float
) -> NDArray[np.float32]:
    """Return enthalpy, Btu/lb of dry air; NaN where an input is not known or cannot be.

    Args:
        dry_bulb_f: -100 to 200 °F.
        rh_percent: 0 to 100 %.
        barometer_psia: Absolute.
    Source: ASHRAE Handbook - Fundamentals, chapter 1, saturation pressure over ice and over
        water, humidity ratio and enthalpy of moist air.
    """
    kelvin_like = dry_bulb_f.astype(np.float64) + 459.67
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        ln_p = np.where(
            dry_bulb_f < 32, _ln_pressure(kelvin_like, _C), _ln_pressure(kelvin_like, _D)
        )
        vapor = np.exp(ln_p) * rh_percent / 100.0
        ratio = 0.621945 * vapor / (barometer_psia - vapor)
        result = 0.240 * dry_bulb_f + ratio * (1061.0 + 0.444 * dry_bulb_f)
    possible = (rh_percent >= 0) & (rh_percent <= 100) & (np.abs(dry_bulb_f - 50) <= 150)
    return np.where(possible, result, np.nan).astype(np.float32)


def _ln_pressure(rankine: NDArray[np.float64], c: tuple[float, ...]) -> NDArray[np.float64]:
    polynomial = c[1] + rankine * (c[2] + rankine * (c[3] + rankine * (c[4] + rankine * c[5])))
    return c[0] / rankine + polynomial + c[6] * np.log(rankine)
