"""Settings of a project: declared here with default and allowed values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from commission.errors import ProjectFileError
from commission.language import near_miss, spoken
from commission.project.schema import TABLES
from commission.project.trend_logs import TrendShelf

SettingValue = float | str

WINDOW_PREFIX = "window."
"""Settings of this beginning belong to the window (last page, pass chosen): any text."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: a number within `bounds`, one of `choices`, or (neither) free text."""

    default: SettingValue
    choices: tuple[str, ...] = ()
    bounds: tuple[float, float] | None = None


SETTINGS: Mapping[str, Setting] = {
    "title": Setting(""),
    "form_id": Setting(""),
    "form_version": Setting(""),
    "form_hash": Setting(""),
    "decision_rule": Setting("simple acceptance", ("simple acceptance", "guarded acceptance")),
    "unit_system": Setting("IP", ("IP", "SI")),
    # JCGM 100 6.3: expanded uncertainty U = k u, k typically 2 to 3 (2: about 95 %).
    "coverage_factor": Setting(2.0, bounds=(1.0, 4.0)),
    # Heading -> what a column of a trend log is taken for, as JSON: kept for the next log.
    "trend_mapping": Setting(""),
}


class ProjectSettings(TrendShelf):
    """Settings, kept with their history as everything else."""

    def setting(self, name: str) -> SettingValue:
        """Return a setting's value, or its default; "" for an unset one of the window."""
        default = _declared(name).default
        rows = self._current(TABLES["setting"], name=name)
        return rows[0]["value"] if rows else default

    def set_setting(self, name: str, value: SettingValue) -> None:
        """Commit a setting.

        Raises:
            ProjectFileError: unknown setting, or a value it cannot have.
        """
        stored = checked_setting(name, value)
        what = spoken("The setting {name}", name=name)
        with self.transaction(what):
            before = self._newest(TABLES["setting"], name=name)
            supersedes = before[0]["id"] if before else ""
            content = {"name": name, "value": stored, "supersedes": supersedes}
            self._append(TABLES["setting"], [content], what)

    def text_setting(self, name: str) -> str:
        """Return a setting that is a text."""
        return str(self.setting(name))

    @property
    def title(self) -> str:
        """What the project is called."""
        return self.text_setting("title")

    @property
    def form_id(self) -> str:
        """Id of the form that the readings answer."""
        return self.text_setting("form_id")

    @property
    def form_version(self) -> str:
        """Version of that form."""
        return self.text_setting("form_version")

    @property
    def form_hash(self) -> str:
        """Content hash of that form."""
        return self.text_setting("form_hash")

    def adopt_form(self, form_id: str, form_version: str, form_hash: str) -> None:
        """Note that the project is from now on kept under another version of the form."""
        with self.transaction(spoken("The form")):
            self.set_setting("form_id", form_id)
            self.set_setting("form_version", form_version)
            self.set_setting("form_hash", form_hash)

    @property
    def decision_rule(self) -> str:
        """ "simple acceptance" or "guarded acceptance"."""
        return self.text_setting("decision_rule")

    @property
    def unit_system(self) -> str:
        """ "IP" or "SI": how values are entered and shown."""
        return self.text_setting("unit_system")

    @property
    def coverage_factor(self) -> float:
        """Factor k from standard to expanded uncertainty."""
        return float(self.setting("coverage_factor"))


def _declared(name: str) -> Setting:
    if name.startswith(WINDOW_PREFIX):
        return Setting("")
    if name not in SETTINGS:
        raise ProjectFileError(
            spoken(
                "Setting '{name}': there is none of this name.{hint} Settings are {settings}.",
                name=name,
                hint=near_miss(name, SETTINGS),
                settings=", ".join(SETTINGS),
            )
        )
    return SETTINGS[name]


def checked_setting(name: str, value: SettingValue) -> SettingValue:
    """Return a setting's value as stored.

    Raises:
        ProjectFileError: unknown setting, or a value it cannot have.
    """
    setting = _declared(name)
    if setting.choices and value not in setting.choices:
        raise ProjectFileError(
            spoken(
                "Setting {name} = '{value}': is none of {choices}.{hint}",
                name=name,
                value=value,
                choices=", ".join(setting.choices),
                hint=near_miss(str(value), setting.choices),
            )
        )
    if setting.bounds:
        low, high = setting.bounds
        if isinstance(value, str) or not low <= value <= high:
            raise ProjectFileError(
                spoken(
                    "Setting {name} = {value}: enter a number from {low:g} to {high:g}.",
                    name=name,
                    value=value,
                    low=low,
                    high=high,
                )
            )
        return float(value)
    if not isinstance(value, str):
        raise ProjectFileError(
            spoken("Setting {name} = {value!r}: enter a text.", name=name, value=value)
        )
    return value
