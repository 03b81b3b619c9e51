"""A small form with one of each: repeats, a grid, choices, stops, limits of every kind."""

from __future__ import annotations

from pathlib import Path

from builders import write_form
from commission.definitions.load import load_form
from commission.definitions.model import Form

REPEATS = """
[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "circuits"
maximum = 4
[[repeat]]
name = "leg"
label = "{member}"
members = ["L1", "L2", "L3"]
count = "3"
maximum = 3
[[repeat]]
name = "line"
label = "Line {n}"
count = "2"
maximum = 2
[[repeat]]
name = "point"
label = "Point {n}"
count = "3"
maximum = 3
"""

SITE = """
[section]
name = "site"
title = "Site"
level = "project"
[[field]]
name = "site_name"
label = "Site"
kind = "text"
[[field]]
name = "elevation_ft"
label = "Elevation"
unit = "ft"
decimals = 0
possible = [-1500, 20000]
[[field]]
name = "barometer_read_psia"
label = "Barometer, if read"
unit = "psia"
decimals = 2
required = false
possible = [5, 17]
instrument = "barometer"
[[quantity]]
name = "standard_barometer_psia"
label = "Standard atmosphere"
unit = "psia"
formula = "standard_pressure_psia(elevation_ft)"
source = "ASHRAE Fundamentals, chapter 1"
[[quantity]]
name = "barometer_psia"
label = "Atmospheric pressure used"
unit = "psia"
symbol = "p_atm"
formula = "barometer_read_psia if known(barometer_read_psia) else standard_barometer_psia"
source = "The reading, else the standard atmosphere"
decimals = 3
[[quantity]]
name = "barometer_change_psi"
label = "Reading less standard atmosphere"
unit = "psi"
formula = "barometer_read_psia - standard_barometer_psia"
when = "known(barometer_read_psia)"
source = "Difference"
decimals = 2
"""

SETUP = """
[section]
name = "setup"
title = "Set-up"
[[field]]
name = "circuits"
label = "Circuits"
kind = "integer"
possible = [1, 4]
[[field]]
name = "heat"
label = "Heat"
kind = "choice"
choices = ["none", "gas"]
[[field]]
name = "refrigerant"
label = "Refrigerant"
kind = "choice"
choices = ["R-410A", "R-32"]
[[field]]
name = "lockout_applied"
label = "Lockout applied"
kind = "item"
severity = "stop"
cure = "Lock out first."
"""

COOLING = """
[section]
name = "cooling"
title = "Cooling [circuits]: what's read, and how"
intro = "At steady full load."
cautions = ["Hot pipes burn."]
repeat = "circuit"
guarded_by = ["lockout_applied_done"]
[[field]]
name = "suction_psig"
label = "Suction pressure"
unit = "psig"
symbol = "p_s"
decimals = 1
instrument = "gauge"
possible = [-14.7, 800]
how = "At the suction service port."
[[field]]
name = "suction_line_f"
label = "Suction-line temperature"
unit = "°F"
decimals = 1
instrument = "thermometer"
possible = [-60, 250]
[[quantity]]
name = "suction_dew_f"
label = "Dew temperature at suction"
unit = "°F"
formula = "dew_f(refrigerant, suction_psig + barometer_psia)"
source = "Saturation"
decimals = 1
[[quantity]]
name = "superheat_f"
label = "Superheat"
unit = "Δ°F"
symbol = "SH"
formula = "suction_line_f - suction_dew_f"
source = "Definition"
decimals = 1
[[check]]
name = "superheat_in_range"
label = "Superheat"
judges = "superheat_f"
limit = "range"
severity = "fail"
cure = "Adjust the charge."
[[check]]
name = "superheat_safe"
label = "Superheat not at flooding"
judges = "superheat_f"
limit = "at least"
severity = "stop"
low = 2
basis = "common practice"
[[field]]
name = "leg_amps_a"
label = "Amps"
repeat = "leg"
unit = "A"
decimals = 1
instrument = "clamp meter"
possible = [0, 500]
[[quantity]]
name = "amps_imbalance_percent"
label = "Current imbalance"
repeat = []
unit = "%"
formula = "imbalance_of(leg_amps_a)"
source = "Definition"
decimals = 2
[[check]]
name = "amps_balanced"
label = "Current imbalance"
judges = "amps_imbalance_percent"
limit = "at most"
severity = "note"
high = 10
basis = "common practice"
[[field]]
name = "point_velocity_fpm"
label = "Velocity"
repeat = ["line", "point"]
unit = "fpm"
decimals = 0
instrument = "anemometer"
possible = [0, 9000]
[[quantity]]
name = "mean_velocity_fpm"
label = "Mean velocity"
repeat = []
unit = "fpm"
formula = "mean_of(point_velocity_fpm)"
source = "Mean"
decimals = 0
[[check]]
name = "velocity_as_designed"
label = "Mean velocity as designed"
judges = "mean_velocity_fpm"
limit = "target"
severity = "fail"
tolerance_percent = 10
basis = "common practice"
[[field]]
name = "remark"
label = "Remark"
repeat = []
kind = "note"
required = false
[[field]]
name = "read_on"
label = "Read on"
repeat = []
kind = "date"
"""

GAS = """
[section]
name = "gas"
title = "Gas heat"
when = "heat == 'gas'"
[[field]]
name = "manifold_inwc"
label = "Manifold pressure"
unit = "in. w.c."
possible = [0, 30]
"""

ANSWERS = {
    "circuits": 2,
    "heat": "none",
    "refrigerant": "R-410A",
    "lockout_applied": "done",
    "elevation_ft": 5200,
    "barometer_read_psia": 12.1,
    "suction_psig": 118.5,
    "suction_line_f": 52.0,
    "read_on": "2026-09-14",
}


def small_form(folder: Path) -> Form:
    """Return the small form, its files written to `folder`."""
    sections = {
        "site.toml": SITE, "setup.toml": SETUP, "cooling.toml": COOLING, "gas.toml": GAS,
    }  # fmt: skip
    return load_form(write_form(folder, sections, REPEATS))
