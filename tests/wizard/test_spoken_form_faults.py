"""Faults of form files are shown in the window's language, all at once."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from builders import write_form
from commission.definitions.load import load_form
from commission.language import ENGLISH, choose_language
from commission.wizard.dialogs import Dialogs
from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow

PAGE = """
[section]
name = "page"
title = "Page"
[[field]]
name = "volts"
label = "Volts"
unit = "W"
[[quantity]]
name = "half"
label = "Half"
unit = "V"
formula = "vlts / 2"
source = "Definition"
"""


@pytest.fixture
def _english_again() -> Iterator[None]:
    yield
    choose_language(ENGLISH)


@pytest.mark.usefixtures("_english_again")
def test_the_window_says_all_faults_of_a_form_in_its_language(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COMMISSION_CONFIG_DIR", str(tmp_path))
    folder = write_form(tmp_path / "forms", {"page.toml": PAGE.replace("label", "lable", 1)})
    window = MainWindow(Dialogs(), Preferences(language="es"), partial(load_form, folder))
    qtbot.addWidget(window)
    window.show()
    window.make_project(tmp_path / "one.rtuproject", "Depot")
    assert window.start is not None
    shown = window.start.said.text()
    assert "page.toml, field volts: clave desconocida 'lable'. ¿Quiso decir 'label'?" in shown
    assert "page.toml, field volts: falta 'label'; agréguela." in shown
