"""Economizer limits, outdoor air and accuracy of thermometers."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from commission.errors import ReadingError
from commission.language import near_miss, spoken

# ASHRAE 90.1-2013 Table 6.5.1.1.3, fixed dry bulb, from memory; rows for 4C, 5B (Washington
# State energy code) and 3B, 5A, 6A, 8 (public energy-model defaults) were seen to agree. A
# public energy model has 70 °F in 7A.
ECONOMIZER_HIGH_LIMIT_F: Mapping[str, float] = MappingProxyType(
    dict.fromkeys(("0A", "1A", "2A", "3A", "4A"), 65.0)
    | dict.fromkeys(("5A", "6A"), 70.0)
    | dict.fromkeys(("0B", "1B", "2B", "3B", "3C", "4B", "4C"), 75.0)
    | dict.fromkeys(("5B", "5C", "6B", "7", "8"), 75.0)
)


def economizer_high_limit_f(climate_zone: str) -> float:
    """Return the fixed dry-bulb temperature above which an economizer must shut, °F.

    Args:
        climate_zone: ASHRAE 169 zone: "1A" ... "6B", "7", "8".
    Raises:
        ReadingError: Not a zone of the table.
    Source: ASHRAE 90.1-2013 Table 6.5.1.1.3 (from memory; some rows seen elsewhere). The
        code in force and the design documents govern.
    """
    limit = ECONOMIZER_HIGH_LIMIT_F.get(climate_zone.upper())
    if limit is None:
        hint = near_miss(climate_zone, ECONOMIZER_HIGH_LIMIT_F)
        raise ReadingError(
            spoken(
                "'{climate_zone}' is not a climate zone with a limit; zones are {zones}.{hint}",
                climate_zone=climate_zone,
                zones=", ".join(sorted(ECONOMIZER_HIGH_LIMIT_F)),
                hint=hint,
            )
        )
    return limit


def outdoor_air_fraction(return_f: float, mixed_f: float, outdoor_f: float) -> float:
    """Return the share of outdoor air, (return - mixed) / (return - outdoor).

    Raises:
        ReadingError: Return and outdoor air equal, or mixed air outside the two.
    Valid: plain number; with thermometers good to 0.5 °F it is good to about 0.03 when
        return and outdoor air are 25 °F apart and to 0.07 when 10 °F apart.
    Source: Sensible heat balance at equal specific heats.
    """
    if return_f == outdoor_f:
        raise ReadingError(
            spoken(
                "Return and outdoor air are both {return_f:.6g} °F, so no share can be told. "
                "Wait for other weather or traverse the intake.",
                return_f=return_f,
            )
        )
    share = (return_f - mixed_f) / (return_f - outdoor_f)
    if not 0 <= share <= 1:
        raise ReadingError(
            spoken(
                "Mixed air {mixed_f:.6g} °F is not between return {return_f:.6g} °F and outdoor "
                "{outdoor_f:.6g} °F. Average more points across the mixing box.",
                mixed_f=mixed_f,
                return_f=return_f,
                outdoor_f=outdoor_f,
            )
        )
    return share


def delivered_capacity_share(delivered_btuh: float, rated_btuh: float) -> float:
    """Return delivered / rated capacity, a plain number.

    Raises:
        ReadingError: No rated capacity.
    Valid: says nothing of off-rating conditions unless the rating is for those met.
    Source: ASHRAE 221, the idea only (its text was not seen).
    """
    if not rated_btuh > 0:
        raise ReadingError(
            spoken(
                "Rated capacity {rated_btuh:.6g} Btu/h must be above 0.",
                rated_btuh=rated_btuh,
            )
        )
    return delivered_btuh / rated_btuh
