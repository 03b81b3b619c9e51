"""What a pound of refrigerant takes up in the evaporator, closed form.

Polynomials fitted to CoolProp, so that neither the program nor a spreadsheet needs property
calls; the fit is made again, and compared, by tests/engineering/test_refrigerating_effect.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from commission.engineering.possible import Bounds, refuse_outside
from commission.engineering.refrigerant import designation_of

SUCTION_DEW_F: Bounds = (-20.0, 75.0)
SUPERHEAT_F: Bounds = (0.0, 40.0)
LIQUID_F: Bounds = (40.0, 140.0)
LARGEST_ERROR_BTULB = 0.3

# Vapour: v0 + v1 S + v2 S² + v3 S³ + SH (v4 + v5 S + v6 S²) + v7 SH², S suction dew point in °F
# and SH superheat in Δ°F; saturated liquid: l1 t + l2 t² + l3 t³; Btu/lb, the difference counts.
# CoolProp 8.0.0.
Vapor = tuple[float, float, float, float, float, float, float, float]
Liquid = tuple[float, float, float]
COEFFICIENTS: Mapping[str, tuple[Vapor, Liquid]] = MappingProxyType(
    {
        "R-22": (
            (
                94.16195,
                0.1009324,
                -0.0001676932,
                -5.829172e-07,
                0.1622279,
                0.0003723423,
                1.654414e-06,
                -4.766642e-05,
            ),
            (0.2819159, -4.851946e-05, 1.415593e-06),
        ),
        "R-32": (
            (
                147.9637,
                0.07915213,
                -0.0004655645,
                -1.433172e-06,
                0.262165,
                0.0007810099,
                4.61286e-06,
                -0.0005424764,
            ),
            (0.4628838, -0.0007348846, 5.959701e-06),
        ),
        "R-134a": (
            (
                91.06033,
                0.1473654,
                -9.33238e-05,
                -5.552864e-07,
                0.1978976,
                0.0004261654,
                1.371672e-06,
                -1.465066e-05,
            ),
            (0.3191744, 6.412635e-06, 1.121971e-06),
        ),
        "R-404A": (
            (
                78.83513,
                0.1340829,
                -0.0001835178,
                -9.892249e-07,
                0.2178271,
                0.0005288913,
                2.821955e-06,
                -9.891576e-05,
            ),
            (0.3747105, -0.0006670784, 5.071157e-06),
        ),
        "R-407C": (
            (
                97.16911,
                0.1299193,
                -0.0001776322,
                -7.993096e-07,
                0.2083277,
                0.0005029123,
                2.016755e-06,
                -0.0001149583,
            ),
            (0.3484789, -0.0001803675, 2.451326e-06),
        ),
        "R-410A": (
            (
                105.6062,
                0.09784402,
                -0.0003283661,
                -1.248803e-06,
                0.239444,
                0.0006660722,
                3.967322e-06,
                -0.0004179611,
            ),
            (0.4307356, -0.001038944, 7.196602e-06),
        ),
        "R-448A": (
            (
                93.88434,
                0.1316829,
                -0.0001824191,
                -8.626167e-07,
                0.2117648,
                0.00050171,
                2.118261e-06,
                -0.0001129813,
            ),
            (0.3542509, -0.0002496044, 2.918848e-06),
        ),
        "R-449A": (
            (
                92.8458,
                0.1316009,
                -0.0001772912,
                -8.471157e-07,
                0.2121374,
                0.0005075862,
                2.09861e-06,
                -0.0001167299,
            ),
            (0.353684, -0.0002548678, 2.930345e-06),
        ),
        "R-452B": (
            (
                120.5674,
                0.1024567,
                -0.0003379022,
                -1.218899e-06,
                0.2450754,
                0.000673298,
                3.595371e-06,
                -0.0003757407,
            ),
            (0.416233, -0.0005340753, 4.890755e-06),
        ),
        "R-454B": (
            (
                122.6687,
                0.104151,
                -0.0003352558,
                -1.204729e-06,
                0.2452033,
                0.000668892,
                3.507015e-06,
                -0.0003603868,
            ),
            (0.4251611, -0.0006115949, 5.159251e-06),
        ),
        "R-454C": (
            (
                88.69422,
                0.1480213,
                -0.0001219754,
                -7.459481e-07,
                0.2137064,
                0.0004701103,
                1.591267e-06,
                -4.079934e-05,
            ),
            (0.3443459, -0.0001413778, 2.277468e-06),
        ),
        "R-513A": (
            (
                81.04593,
                0.1541641,
                -7.707201e-05,
                -5.658754e-07,
                0.2031756,
                0.0004301571,
                1.297002e-06,
                1.19186e-05,
            ),
            (0.3143835, -3.471484e-06, 1.26831e-06),
        ),
        "R-1234yf": (
            (
                75.15759,
                0.1616554,
                -5.653255e-05,
                -5.701605e-07,
                0.2053281,
                0.0004190673,
                1.165091e-06,
                5.164382e-05,
            ),
            (0.3092348, 1.01767e-05, 1.211326e-06),
        ),
    }
)


def refrigerating_effect_btulb(
    refrigerant: str, suction_dew_f: float, superheat_f: float, liquid_f: float
) -> float:
    """Return enthalpy of suction gas less that of the liquid line, Btu/lb.

    Args:
        refrigerant: Designation such as "R-410A".
        suction_dew_f: Dew temperature at suction pressure, °F.
        superheat_f: Suction superheat, Δ°F.
        liquid_f: Liquid-line temperature, °F (the liquid is taken as saturated at it).
    Raises:
        ReadingError: Unknown refrigerant, or outside the fit: -20 to 75 °F dew point, 0 to
            40 Δ°F superheat, 40 to 140 °F liquid.
    Valid: heat gained by the suction line outside the air stream is counted in.
    Source: Polynomials fitted to CoolProp 8.0.0, within 0.3 Btu/lb (0.4 %) of it.
    """
    name = designation_of(refrigerant)
    refuse_outside("Suction dew point", suction_dew_f, SUCTION_DEW_F, "°F", "Read again.", name)
    refuse_outside("Superheat", superheat_f, SUPERHEAT_F, "Δ°F", "Read line and pressure again.")
    refuse_outside("Liquid line", liquid_f, LIQUID_F, "°F", "Read it again.")
    vapor, liquid = COEFFICIENTS[name]
    s, sh, t = suction_dew_f, superheat_f, liquid_f
    gas = vapor[0] + s * (vapor[1] + s * (vapor[2] + s * vapor[3]))
    gas += sh * (vapor[4] + s * (vapor[5] + s * vapor[6]) + sh * vapor[7])
    return gas - t * (liquid[0] + t * (liquid[1] + t * liquid[2]))
