"""A small form of every kind of entry, and a window on a project of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.validation.session import Session
from commission.wizard.application import prepared_application
from commission.wizard.dialogs import Dialogs
from commission.wizard.preferences import Preferences
from commission.wizard.window import MainWindow

TOP = """
id = "window_test"
version = "1"
title = "A small form"
sections = ["site.toml", "setup.toml", "safety.toml", "volts.toml", "gas.toml"]
[[repeat]]
name = "pair"
label = "{member}"
members = ["L1-L2", "L2-L3", "L3-L1"]
count = "3 if phases == '3' else 1"
maximum = 3
[[repeat]]
name = "motor"
label = "Motor {n}"
count = "motors"
maximum = 4
"""
SITE = """
[section]
name = "site"
title = "Site"
stage = "Job"
level = "project"
[[field]]
name = "site_name"
label = "Site name"
kind = "text"
"""
SETUP = """
[section]
name = "setup"
title = "Set-up"
stage = "Job"
[[field]]
name = "phases"
label = "Supply phases"
kind = "choice"
choices = ["1", "3"]
[[field]]
name = "motors"
label = "Motors"
kind = "integer"
possible = [1, 4]
[[field]]
name = "heat"
label = "Heat"
kind = "choice"
choices = ["none", "gas"]
[[field]]
name = "rated_v"
label = "Rated volts"
unit = "V"
photo = true
"""
SAFETY = """
[section]
name = "safety"
title = "Power off"
stage = "Before power"
cautions = ["Falls kill."]
[[field]]
name = "locked_out"
label = "Lockout applied"
kind = "item"
severity = "stop"
cure = "Lock it out."
[[field]]
name = "guards_fitted"
label = "Guards fitted"
kind = "item"
[[field]]
name = "meter_proved"
label = "Meter proved"
kind = "yes_no"
"""
VOLTS = """
[section]
name = "volts"
title = "Supply volts"
stage = "Running"
intro = "Read each pair."
guarded_by = ["locked_out_done"]
[[field]]
name = "supply_v"
label = "Supply voltage"
repeat = "pair"
unit = "V"
symbol = "V"
decimals = 1
instrument = "multimeter"
photo = true
possible = [0, 1000]
plausible = [100, 630]
how = "At the disconnect."
[[field]]
name = "motor_a"
label = "Motor amps"
repeat = ["motor", "pair"]
unit = "A"
possible = [0, 500]
[[field]]
name = "control_v"
label = "Control voltage"
unit = "V"
symbol = "V_c"
decimals = 1
instrument = "multimeter"
possible = [0, 150]
plausible = [18, 130]
how = "Transformer secondary."
[[quantity]]
name = "average_v"
label = "Average voltage"
unit = "V"
symbol = "V_avg"
formula = "mean_of(supply_v)"
source = "Arithmetic mean"
decimals = 1
[[quantity]]
name = "imbalance_percent"
label = "Voltage imbalance"
unit = "%"
formula = "imbalance_of(supply_v)"
source = "NEMA MG 1, 12.45"
decimals = 2
[[check]]
name = "supply_in_range"
label = "Supply voltage near rated"
judges = "supply_v"
limit = "range"
severity = "fail"
low = "0.9 * rated_v"
high = "1.1 * rated_v"
basis = "nameplate"
source = "Rating plate"
[[check]]
name = "imbalance_small"
label = "Voltage imbalance"
judges = "imbalance_percent"
limit = "at most"
severity = "fail"
high = 2
basis = "common practice"
cure = "Balance the phases."
[[check]]
name = "control_in_range"
label = "Control voltage in range"
judges = "control_v"
limit = "range"
severity = "fail"
"""
GAS = """
[section]
name = "gas"
title = "Gas"
stage = "Running"
when = "heat == 'gas'"
[[field]]
name = "gas_inwc"
label = "Gas pressure"
unit = "in. w.c."
[[field]]
name = "remarks"
label = "Remarks"
kind = "note"
required = false
"""


@pytest.fixture(scope="session")
def form_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small form's files."""
    folder = tmp_path_factory.mktemp("small_form")
    texts = {"site": SITE, "setup": SETUP, "safety": SAFETY, "volts": VOLTS, "gas": GAS}
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    for name, text in texts.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def form(form_folder: Path) -> Form:
    return load_form(form_folder)


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """What the window remembers stays in the test's own folder."""
    folder = tmp_path / "config"
    folder.mkdir()
    monkeypatch.setenv("COMMISSION_CONFIG_DIR", str(folder))
    return folder


@pytest.fixture
def make_window(qtbot: QtBot, form: Form) -> Iterator[Callable[..., MainWindow]]:
    """Make a window on the small form; it is closed, and so its project, after the test."""
    made: list[MainWindow] = []

    def make(dialogs: Dialogs | None = None, load: Callable[[], Form] | None = None) -> MainWindow:
        prepared_application()
        window = MainWindow(dialogs, Preferences.load(), load or (lambda: form))
        qtbot.addWidget(window)
        made.append(window)
        window.resize(1024, 640)
        with qtbot.waitActive(window):
            window.show()
            window.activateWindow()
        return window

    yield make
    for window in made:
        window.close()


@pytest.fixture
def project_path(tmp_path: Path, form: Form) -> Path:
    """A project with one unit: three phases, two motors, no heat, 460 V, locked out."""
    path = tmp_path / "small.rtuproject"
    with Session.create(path, form, "Small job") as session:
        unit = session.add_unit("RTU-1")
        for name, text in (
            ("phases", "3"),
            ("motors", "2"),
            ("heat", "none"),
            ("rated_v", "460"),
            ("locked_out", "done"),
        ):
            session.enter(unit.id, name, (), text)
    return path


@pytest.fixture
def window(make_window: Callable[..., MainWindow], project_path: Path) -> MainWindow:
    """A window on that project."""
    made = make_window()
    made.open_project(project_path)
    assert made.workplace is not None
    made.workplace.board.model.settle()
    return made


@pytest.fixture(scope="session")
def demo_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole demo site, with its trend log."""
    from commission.project.scenario import project_from_scenario
    from commission.resources import demo_units_folder
    from commission.sequence.trend_demo import add_demo_log

    folder = tmp_path_factory.mktemp("demo_site")
    form = load_form()
    project_from_scenario(demo_units_folder(), folder / "demo.rtuproject", form).close()
    add_demo_log(folder / "demo.rtuproject", form, folder)
    return folder / "demo.rtuproject"


@pytest.fixture
def demo_tour(
    make_window: Callable[..., MainWindow], demo_site: Path, tmp_path: Path
) -> Callable[..., MainWindow]:
    """Open a copy of the demo site in a palette, a size and a language."""

    def opened(palette: str, percent: int, code: str = "en") -> MainWindow:
        own = tmp_path / "tour.rtuproject"
        own.write_bytes(demo_site.read_bytes())
        window = make_window(None, load_form)
        window.preferences.palette, window.preferences.percent = palette, percent
        window.preferences.language = code
        window._speak_anew()
        window._look_changed()
        window.open_project(own)
        return window

    return opened
