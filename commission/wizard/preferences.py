"""What the window remembers between runs: recent files, palette, size. One small JSON file."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from PySide6.QtCore import QStandardPaths

from commission.language import ENGLISH, languages
from commission.wizard.appearance import PALETTES, SCALES, Appearance

_FOLDER_VARIABLE = "COMMISSION_CONFIG_DIR"
_MOST_RECENT = 8
_MOST_PROJECTS = 40


def config_folder() -> Path:
    """Return the folder of the window's own files ($COMMISSION_CONFIG_DIR if that is set)."""
    chosen = os.environ.get(_FOLDER_VARIABLE)
    if chosen:
        return Path(chosen)
    place = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.GenericConfigLocation)
    return Path(place) / "rooftop-commission"


def projects_folder() -> Path:
    """Return where a new project is proposed: the person's documents, or their home."""
    chosen = os.environ.get(_FOLDER_VARIABLE)
    if chosen:
        return Path(chosen)
    place = Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation))
    return place if place.is_dir() else Path.home()


@dataclass
class Preferences:
    """Recent files (newest first), palette, language, size in percent, the window's size.

    `recording` holds, by a project's own id, who records on this computer and in which pass;
    `instruments` the instrument taken last for each kind of reading.
    """

    recent: list[str] = field(default_factory=list)
    palette: str = "light"
    language: str = ENGLISH
    percent: int = 100
    size: tuple[int, int] = (1280, 820)
    recording: dict[str, list[str]] = field(default_factory=dict)
    instruments: dict[str, dict[str, str]] = field(default_factory=dict)

    @classmethod
    def load(cls) -> Preferences:
        """Read the preferences; a file that cannot be read counts as none."""
        try:
            stored: Any = json.loads(_file().read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return cls()
        return cls._from(stored) if isinstance(stored, dict) else cls()

    @classmethod
    def _from(cls, stored: dict[str, Any]) -> Preferences:
        preferences = cls()
        recent = stored.get("recent")
        if isinstance(recent, list):
            preferences.recent = [str(path) for path in recent][:_MOST_RECENT]
        if stored.get("palette") in PALETTES:
            preferences.palette = stored["palette"]
        if stored.get("language") in languages():
            preferences.language = stored["language"]
        if stored.get("percent") in SCALES:
            preferences.percent = stored["percent"]
        size = stored.get("size")
        if isinstance(size, list) and len(size) == 2 and all(isinstance(n, int) for n in size):
            preferences.size = (max(size[0], 900), max(size[1], 560))
        instruments = stored.get("instruments")
        if isinstance(instruments, dict):
            preferences.instruments = {
                str(project): {str(kind): str(one) for kind, one in chosen.items()}
                for project, chosen in instruments.items()
                if isinstance(chosen, dict)
            }
        recording = stored.get("recording")
        if isinstance(recording, dict):
            preferences.recording = {
                str(project): [str(text) for text in said]
                for project, said in recording.items()
                if isinstance(said, list) and len(said) == 2
            }
        return preferences

    def instruments_of(self, project: str) -> dict[str, str]:
        """Return the ids of the instruments taken last in a project, by kind of reading."""
        return dict(self.instruments.get(project, {}))

    def remember_instruments(self, project: str, chosen: dict[str, str]) -> None:
        """Remember which instrument is taken for each kind of reading in a project."""
        self.instruments.pop(project, None)
        self.instruments[project] = dict(chosen)
        for oldest in list(self.instruments)[:-_MOST_PROJECTS]:
            del self.instruments[oldest]
        self.save()

    def recording_of(self, project: str) -> tuple[str, str]:
        """Return the id of who records in a project, and the pass; "" where not known."""
        person, pass_name = self.recording.get(project, ("", ""))
        return person, pass_name

    def remember_recording(self, project: str, person: str, pass_name: str) -> None:
        """Remember who records in a project, and in which pass."""
        self.recording.pop(project, None)
        self.recording[project] = [person, pass_name]
        for oldest in list(self.recording)[:-_MOST_PROJECTS]:
            del self.recording[oldest]
        self.save()

    def save(self) -> None:
        """Write the preferences; where that cannot be done the window works without."""
        place = _file()
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            beside = place.with_suffix(".new")
            beside.write_text(json.dumps(asdict(self), indent=1), encoding="utf-8")
            beside.replace(place)
        except OSError:
            return

    def opened(self, path: Path) -> None:
        """Put a file first in the list of recent ones."""
        name = str(path.resolve())
        self.recent = [name, *(other for other in self.recent if other != name)][:_MOST_RECENT]
        self.save()

    def appearance(self) -> Appearance:
        """Return the look that goes with these preferences."""
        return Appearance(PALETTES[self.palette], self.percent)


def _file() -> Path:
    return config_folder() / "window.json"
