"""A small form with everything that a calculation must follow, for several tests."""

from __future__ import annotations

from functools import cache

from builders import form_of
from commission.definitions.model import Form

REPEATS = """
[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "circuits"
maximum = 3
[[repeat]]
name = "compressor"
label = "Compressor {n}"
count = "compressors"
maximum = 3
[[repeat]]
name = "pair"
label = "{member}"
members = ["L1-L2", "L2-L3", "L3-L1"]
count = "3 if phases == '3' else 1"
maximum = 3
"""
SITE = """
[section]
name = "site"
title = "Site"
level = "project"
[[field]]
name = "elevation_ft"
label = "Elevation"
unit = "ft"
possible = [-1500, 20000]
[[field]]
name = "barometer_read_psia"
label = "Barometer"
unit = "psia"
required = false
[[quantity]]
name = "barometer_psia"
label = "Barometric pressure"
unit = "psia"
symbol = "p_bar"
decimals = 3
formula = '''
barometer_read_psia if known(barometer_read_psia) else standard_pressure_psia(elevation_ft)'''
source = "ASHRAE Handbook, Fundamentals, ch. 1"
"""
CONFIGURATION = """
[section]
name = "configuration"
title = "Configuration"
[[field]]
name = "circuits"
label = "Circuits"
kind = "integer"
possible = [0, 3]
[[field]]
name = "compressors"
label = "Compressors"
kind = "integer"
possible = [0, 3]
[[field]]
name = "phases"
label = "Phases"
kind = "choice"
choices = ["1", "3"]
[[field]]
name = "metering"
label = "Metering"
kind = "choice"
choices = ["fixed orifice", "thermal valve"]
[[field]]
name = "rated_volts"
label = "Rated voltage"
unit = "V"
possible = [1, 1000]
"""
SAFETY = """
[section]
name = "safety"
title = "Power off"
[[field]]
name = "lockout"
label = "Lockout applied"
kind = "item"
severity = "stop"
cure = "Apply it."
[[field]]
name = "guards"
label = "Guards in place"
kind = "item"
"""
ELECTRICAL = """
[section]
name = "electrical"
title = "Electrical"
when = "compressors > 0"
guarded_by = ["lockout_done"]
[[field]]
name = "pair_volts"
label = "Voltage"
unit = "V"
repeat = "pair"
possible = [0, 1000]
[[quantity]]
name = "mean_volts"
label = "Mean voltage"
unit = "V"
decimals = 1
formula = "mean_of(pair_volts)"
source = "Definition"
[[quantity]]
name = "volts_imbalance"
label = "Voltage imbalance"
unit = "%"
decimals = 2
when = "phases == '3'"
formula = "imbalance_of(pair_volts)"
source = "NEMA MG 1, 14.36"
[[check]]
name = "volts_imbalance_at_most"
label = "Voltage imbalance"
judges = "volts_imbalance"
limit = "at most"
high = 2.0
basis = "common practice"
severity = "stop"
[[check]]
name = "volts_in_range"
label = "Voltage"
judges = "mean_volts"
limit = "range"
low = "0.9 * rated_volts"
high = "1.1 * rated_volts"
basis = "nameplate"
source = "Rated voltage plus or minus 10 %"
[[field]]
name = "amps"
label = "Current"
unit = "A"
repeat = ["compressor", "pair"]
[[quantity]]
name = "compressor_amps"
label = "Compressor current"
unit = "A"
repeat = "compressor"
formula = "mean_of(amps)"
source = "Definition"
[[quantity]]
name = "all_amps"
label = "All compressors"
unit = "A"
formula = "sum_of(compressor_amps)"
source = "Definition"
[[quantity]]
name = "amps_share"
label = "Share of all"
unit = "%"
repeat = "compressor"
formula = "100 * compressor_amps / all_amps"
source = "Definition"
[[check]]
name = "amps_at_most"
label = "Compressor current"
judges = "compressor_amps"
limit = "at most"
"""
COOLING = """
[section]
name = "cooling"
title = "Cooling"
repeat = "circuit"
[[field]]
name = "suction_psig"
label = "Suction pressure"
unit = "psig"
decimals = 1
possible = [-14.7, 800]
plausible = [20, 300]
[[field]]
name = "suction_line_f"
label = "Suction line"
unit = "°F"
decimals = 1
[[quantity]]
name = "suction_dew_f"
label = "Saturated suction"
unit = "°F"
decimals = 1
formula = "dew_f('R-410A', suction_psig + barometer_psia)"
source = "CoolProp"
[[quantity]]
name = "superheat_f"
label = "Suction superheat"
unit = "Δ°F"
symbol = "SH"
decimals = 1
formula = "suction_line_f - suction_dew_f"
source = "Definition"
[[check]]
name = "superheat_in_range"
label = "Suction superheat"
judges = "superheat_f"
limit = "range"
when = "metering != 'fixed orifice'"
[[check]]
name = "superheat_target"
label = "Suction superheat"
judges = "superheat_f"
limit = "target"
when = "metering == 'fixed orifice'"
"""


@cache
def small_form() -> Form:
    """Return the form; the project page last, to show that order does not matter."""
    return form_of(
        CONFIGURATION,
        REPEATS,
        safety=SAFETY,
        electrical=ELECTRICAL,
        cooling=COOLING,
        site=SITE,
    )
