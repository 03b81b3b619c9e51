"""The faults that the simulated unit can be given, and the rule that should find each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from commission.sequence.configuration import Configuration

ECONOMIZER_GAS = Configuration(
    cooling_stages=2, circuits=2, compressors=2, condenser_fans=2, heat_type="gas",
    gas_valve="two stage", heat_stages=2, economizer="fixed dry bulb",
    outdoor_damper="modulating", relief="gravity", high_pressure_cutout_fitted=True,
    low_pressure_cutout_fitted=True, freeze_protection_fitted=True, phase_monitor_fitted=True,
    condensate_switch_fitted=True, smoke_detector_fitted=True, airflow_switch_fitted=True,
    filter_switch_fitted=True, rollout_switch_fitted=True, vent_pressure_switch_fitted=True,
    leak_detection_fitted=True,
)  # fmt: skip
ONE_CIRCUIT = replace(ECONOMIZER_GAS, circuits=1, economizer="none", outdoor_damper="none")
ELECTRIC = replace(
    ONE_CIRCUIT, heat_type="electric", electric_heat_stages=2, rollout_switch_fitted=False,
    vent_pressure_switch_fitted=False,
)  # fmt: skip
HEAT_PUMP = replace(ELECTRIC, heat_type="heat pump with auxiliary electric")
# With auxiliary heat behind it, warm supply air would hide a heat pump that does not heat.
PLAIN_HEAT_PUMP = replace(HEAT_PUMP, heat_type="heat pump")

# What a person would have entered for these units; the rest are the defaults.
UNIT_LIMITS: Mapping[str, float] = MappingProxyType({
    "fan_loaded_a": 3.0, "minimum_outdoor_air_cfm": 500.0, "minimum_damper_least_percent": 10.0,
    "minimum_damper_most_percent": 20.0,
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with the unit.

    Attributes:
        found_by: The rule that should find it; others may as well.
        configuration: A unit on which it can happen.
    """

    name: str
    title: str
    found_by: str
    configuration: Configuration = ECONOMIZER_GAS


FAULTS: tuple[Fault, ...] = (
    Fault("blocked_vent", "Vent blocked: the pressure switch never closes", "vent_switch_closes"),
    Fault("failed_inducer", "Inducer does not start", "inducer_starts"),
    Fault("weak_flame", "Flame signal fades after 25 s", "flame_holds"),
    Fault("failed_igniter", "No ignition", "ignition_lights"),
    Fault("no_lockout", "No ignition, and the control tries without end", "ignition_attempts"),
    Fault("gas_valve_leaks", "Gas valve does not shut: flame burns on", "flame_only_with_gas"),
    Fault("gas_relay_welded", "Gas relay welded: valve stays open after the call",
          "gas_off_with_call"),
    Fault("no_flame_failure_response", "Flame lost and the valve stays open", "gas_without_flame"),
    Fault("no_prepurge", "Gas with no prepurge", "prepurge_long_enough"),
    Fault("no_post_purge", "Inducer stops with the valve", "post_purge_long_enough"),
    Fault("inducer_drops_out", "Inducer stops while firing, switch bypassed",
          "gas_only_with_inducer"),
    Fault("vent_switch_jumpered", "Vent pressure switch jumpered", "vent_switch_opens"),
    Fault("vent_loss_ignored", "Vent lost while firing and the valve stays open",
          "gas_only_with_vent_switch"),
    Fault("fan_on_delay_long", "Fan starts 150 s after the flame", "heating_fan_on_delay"),
    Fault("fan_off_delay_missing", "Fan stops with the gas valve", "heating_fan_off_delay"),
    Fault("swapped_gas_stages", "W1 opens the second gas stage", "high_fire_after_low"),
    Fault("blocked_duct", "Duct obstructed: the limit trips", "high_limit_stays_closed"),
    Fault("limit_ignored", "Limit bypassed: gas stays on with it open", "gas_off_on_high_limit"),
    Fault("rollout_ignored", "Rollout bypassed: gas stays on with it open", "gas_off_on_rollout"),
    Fault("low_gas_pressure", "Low manifold pressure: little heat", "gas_rise_low"),
    Fault("broken_belt", "Fan belt broken", "fan_loaded"),
    Fault("slow_fan", "Fan starts 150 s late", "fan_starts_on_call", ELECTRIC),
    Fault("fan_not_with_cooling", "Cooling call does not start the fan for 3 minutes",
          "fan_with_cooling_call"),
    Fault("airflow_switch_stuck", "Airflow switch always closed",
          "airflow_not_proved_without_fan"),
    Fault("compressor_without_fan", "Fan stops and the compressor runs on", "compressor_with_fan"),
    Fault("contactor_welded", "Compressor contactor welded", "compressor_off_without_call"),
    Fault("compressor_dead", "No compressor starts", "compressor_starts", ONE_CIRCUIT),
    Fault("cooling_locked_out", "No compressor starts in hot weather",
          "compressor_starts_when_unsuited"),
    Fault("no_anti_short_cycle", "No off timer, and a nervous thermostat",
          "compressor_minimum_off"),
    Fault("short_runs", "Compressor drops out after 40 s", "compressor_minimum_on"),
    Fault("short_cycling", "Compressor cycles every 7 minutes", "compressor_cycling"),
    Fault("swapped_cooling_stages", "Y1 starts the second compressor", "first_stage_first"),
    Fault("stages_together", "Both compressors start at once", "second_compressor_waits"),
    Fault("condenser_fan_dead", "Condenser fans do not run", "condenser_fan_with_compressor"),
    Fault("low_charge", "Hardly any charge: no cooling", "cooling_effect"),
    Fault("undersized", "Cooling far too small for the load", "room_cooling_setpoint_held"),
    Fault("high_pressure_ignored", "High-pressure cut-out bypassed",
          "compressor_off_on_high_pressure", ONE_CIRCUIT),
    Fault("freeze_ignored", "Freeze protection bypassed", "compressor_off_on_freeze", ONE_CIRCUIT),
    Fault("smoke_ignored", "Smoke detector not wired to the fan", "fan_off_on_smoke"),
    Fault("phase_fault_ignored", "Phase monitor not wired", "unit_off_on_phase_fault"),
    Fault("condensate_ignored", "Condensate switch not wired", "compressor_off_on_condensate"),
    Fault("leak_ignored", "Leak detector not wired", "fan_on_leak"),
    Fault("heating_with_cooling", "Heat relay welded: gas fires with cooling",
          "no_heating_with_cooling"),
    Fault("damper_stuck_0", "Outdoor damper stuck shut", "damper_open_occupied"),
    Fault("damper_stuck_50", "Outdoor damper stuck half open", "damper_follows_command"),
    Fault("damper_stuck_100", "Outdoor damper stuck open", "economizer_gives_back"),
    Fault("linkage_slipped", "Damper shows open, blades stay shut", "outdoor_share_open"),
    Fault("changeover_high", "Changeover far too high", "economizer_gives_back"),
    Fault("changeover_low", "Changeover far too low: no economizing", "economizer_used"),
    Fault("not_integrated", "Economizer shuts when a compressor runs", "economizer_integrated"),
    Fault("compressor_first", "Cooling call goes to the compressor first",
          "economizer_before_compressor"),
    Fault("damper_open_when_off", "Damper does not shut with the fan", "damper_closed_when_off"),
    Fault("little_outdoor_air", "Minimum set too low by airflow", "outdoor_air_enough"),
    Fault("outdoor_sensor_biased", "Outdoor sensor reads 15 °F high", "mixed_between"),
    Fault("mixed_sensor_biased", "Mixed-air sensor reads 12 °F low", "mixed_between"),
    Fault("supply_sensor_biased", "Supply sensor reads 10 °F high", "supply_near_mixed"),
    Fault("return_sensor_biased", "Return sensor reads 10 °F high", "return_near_room"),
    Fault("lost_schedule", "Fan runs on unoccupied", "fan_off_unoccupied"),
    Fault("fan_auto_occupied", "Fan cycles with calls while occupied", "fan_runs_occupied"),
    Fault("heater_without_fan", "Electric heat on with the fan off", "electric_heat_with_fan",
          ELECTRIC),
    Fault("heater_welded", "Heater contactor welded", "electric_heat_off_without_call", ELECTRIC),
    Fault("heaters_together", "Heat stages come on at once", "electric_stages_apart", ELECTRIC),
    Fault("heater_open", "Heater elements open", "electric_rise", ELECTRIC),
    Fault("reversing_valve_stuck", "Reversing valve stuck in cooling", "heat_pump_heats",
          PLAIN_HEAT_PUMP),
    Fault("reversing_valve_miswired", "Reversing valve not energised on heating calls",
          "reversing_valve_in_heating", HEAT_PUMP),
    Fault("defrost_long", "Defrost does not end for 20 minutes", "defrost_ends", HEAT_PUMP),
    Fault("auxiliary_with_cooling", "Auxiliary heater welded", "no_auxiliary_with_cooling",
          HEAT_PUMP),
)  # fmt: skip
