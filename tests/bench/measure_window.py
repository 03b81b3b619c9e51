"""The window's speed and memory: `python tests/bench/measure_window.py [start run keys ...]`.

Nothing here is asserted: times belong to a machine and a day. `start`: processor time of a window
shown against a bare one. `run`: the longest stretches in which the event loop did not come
round, in a run through the demo site. `keys`: from a key press to the verdict painted, with many
units open. `memory`: over page visits. `labels`: 200,000 texts set. No name: all of them.

The processor time of the window's thread is the honest figure where a machine is shared; beside
it stands the time on the wall, in which others, the disk and the program's own threads have part.
"""

from __future__ import annotations

import ctypes
import gc
import heapq
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from measure import BARE_WINDOW
from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from commission.definitions.load import load_form
from commission.definitions.model import Kind
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.session import Session
from commission.validation.verdict import Outcome
from commission.wizard.application import prepared_application
from commission.wizard.collecting import Collector
from commission.wizard.entry_row import FieldRow
from commission.wizard.grid import GridBlock
from commission.wizard.header import PLACES, StatusStrip
from commission.wizard.page import SectionPage
from commission.wizard.parts import SignLabel, label
from commission.wizard.preferences import Preferences
from commission.wizard.states import OUTCOMES
from commission.wizard.window import MainWindow
from commission.wizard.workplace import Workplace

CONTROL = Qt.KeyboardModifier.ControlModifier
UNITS_OPEN, VISITS, TEXTS = 60, 200, 200_000
MOST_MS, STARTS = 50, 7
_REST_S, _LONGEST_WAIT_S = 0.06, 300.0

Row = tuple[str, str, str]


def main(wanted: list[str]) -> None:
    """Measure and print the rows that are wanted."""
    parts: dict[str, Callable[[Path], Iterator[Row]]] = {
        "start": start_rows,
        "run": run_rows,
        "keys": key_rows,
        "memory": memory_rows,
        "labels": label_rows,
    }
    unknown = sorted(set(wanted) - set(parts))
    if unknown:
        raise SystemExit(f"{', '.join(unknown)}: not measured here. Known: {', '.join(parts)}.")
    if len(wanted) == 1:
        with tempfile.TemporaryDirectory() as folder:
            os.environ["COMMISSION_CONFIG_DIR"] = folder
            print(
                f"({wanted[0]}: a million additions take {_pace_ms():.0f} ms of this processor now)"
            )
            for name, value, aim in parts[wanted[0]](Path(folder)):
                print(f"{name:58} {value:>40}   {aim}", flush=True)
        os._exit(0)  # as a person's desktop would: nothing here needs taking apart
    for name in wanted or parts:  # each in a process of its own: memory starts afresh
        subprocess.run([sys.executable, __file__, name], check=True)


def _pace_ms() -> float:
    """Return what a fixed piece of work takes, ms: how fast the machine is, with all it does."""
    began = time.thread_time()
    total = 0
    for number in range(1_000_000):
        total += number
    return (time.thread_time() - began) * 1e3


# -- start ---------------------------------------------------------------------------------


def start_rows(folder: Path) -> Iterator[Row]:
    """Processor time, user and system, of a window shown and of a bare one, in turns."""
    env = dict(os.environ, PYTHONPYCACHEPREFIX=str(folder / "compiled"))
    env.pop("PYTHONDONTWRITEBYTECODE", None)  # a program that is installed has been compiled
    bare_command = [sys.executable, "-c", BARE_WINDOW]
    ours_command = [sys.executable, "-m", "commission", "window", "--exit-when-shown"]
    for command in (bare_command, ours_command):
        _run_s(command, env)
    pairs = [(_run_s(bare_command, env), _run_s(ours_command, env)) for _ in range(STARTS)]
    for place, what in enumerate(("processor time", "on the wall")):
        bare, ours = (min(pair[side][place] for pair in pairs) for side in (0, 1))
        shown = f"{ours * 1e3:.0f}/{bare * 1e3:.0f} ms = {ours / bare:.2f}"
        yield f"window shown / bare window shown, {what}", shown, "within 2"


def _run_s(command: list[str], env: dict[str, str]) -> tuple[float, float]:
    """Return processor seconds and seconds on the wall of a command."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, env=env, check=True)
    wall = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall


# -- the event loop ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, order=True)
class Stretch:
    """A stretch between two rounds of the event loop."""

    cpu_s: float
    wall_s: float
    step: str


class Heartbeat(QObject):
    """Ticks once in each round of the event loop, and keeps how long each round took."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.step = ""
        self.stretches: list[Stretch] = []
        self.collecting = (0.0, 0.0, -1)
        """The longest look of Python's collector: processor and wall seconds, generation."""
        self._collecting_from = (0.0, 0.0)
        self._cpu, self._wall = time.thread_time(), time.perf_counter()
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(1)
        self._timer.timeout.connect(self._tick)
        gc.callbacks.append(self._collected)
        self._timer.start()

    def _tick(self) -> None:
        cpu, wall = time.thread_time(), time.perf_counter()
        self.stretches.append(Stretch(cpu - self._cpu, wall - self._wall, self.step))
        self._cpu, self._wall = time.thread_time(), time.perf_counter()

    def _collected(self, phase: str, told: dict[str, int]) -> None:
        if phase == "start":
            self._collecting_from = time.thread_time(), time.perf_counter()
        else:
            cpu_s, wall_s = _since(self._collecting_from)
            self.collecting = max(self.collecting, (cpu_s, wall_s, told["generation"]))

    def end(self) -> None:
        """Tick no more."""
        self._timer.stop()
        gc.callbacks.remove(self._collected)


def _always() -> bool:
    return True


@dataclass(frozen=True, slots=True)
class Step:
    """Something a person does: its name, the deed, and when the next may begin."""

    name: str
    act: Callable[[], object]
    until: Callable[[], bool] = _always


class Driver(QObject):
    """Does the steps one after the other out of the event loop, as the desktop would."""

    def __init__(self, script: Iterator[Step], heartbeat: Heartbeat, ended: Callable[[], None]):
        super().__init__(heartbeat)
        self._script, self._heartbeat, self._ended = script, heartbeat, ended
        self._step: Step | None = None
        self._began = 0.0
        self.fault: BaseException | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(3)
        self._timer.timeout.connect(self._go_on)
        self._timer.start()

    def _go_on(self) -> None:
        since = time.perf_counter() - self._began
        if self._step is not None:
            if since < _REST_S or not (self._step.until() or since > _LONGEST_WAIT_S):
                return
            if since > _LONGEST_WAIT_S:
                print(f"'{self._step.name}' did not come to its end", flush=True)
        try:
            self._step = next(self._script, None)
            if self._step is None:
                self._timer.stop()
                self._ended()
                return
            self._began = time.perf_counter()
            self._heartbeat.step = self._step.name
            self._step.act()
        except BaseException as fault:
            self.fault = fault
            self._timer.stop()
            self._ended()


def run_rows(folder: Path) -> Iterator[Row]:
    """The longest stretches of a run through the demo."""
    application = prepared_application()
    collector = Collector(application)
    window = MainWindow(None, Preferences.load())
    window.resize(1280, 800)
    window.show()
    heartbeat = Heartbeat(window)
    driver = Driver(demo_run(window, folder), heartbeat, application.quit)
    application.exec()
    heartbeat.end()
    collector.end()
    if driver.fault is not None:
        raise driver.fault
    stretches = heartbeat.stretches
    over = [one for one in stretches if one.cpu_s * 1e3 > MOST_MS]
    worst = max(stretches)
    yield (
        f"event loop: longest of {len(stretches):,} rounds, {len(over)} over {MOST_MS} ms",
        f"{worst.cpu_s * 1e3:.0f} ms (wall {worst.wall_s * 1e3:.0f})",
        f"never over {MOST_MS} ms",
    )
    for one in heapq.nlargest(25 if len(over) > 10 else 10, stretches):
        shown = f"{one.cpu_s * 1e3:.1f} ms (wall {one.wall_s * 1e3:.1f})"
        yield f"    {one.step}", shown, ""
    longest = max(stretches, key=lambda one: one.wall_s)
    yield (
        f"    on the wall: {longest.step}",
        f"{longest.cpu_s * 1e3:.1f} ms (wall {longest.wall_s * 1e3:.1f})",
        "disturbed by others",
    )
    cpu_s, wall_s, generation = heartbeat.collecting
    shown = f"{cpu_s * 1e3:.1f} ms (wall {wall_s * 1e3:.1f}), generation {generation}"
    yield "longest look of Python's collector, in any thread", shown, ""


def demo_run(window: MainWindow, folder: Path) -> Iterator[Step]:
    """Everything there is, on the demo site, in a person's order."""
    yield Step("first screen", lambda: window.begin(None))
    assert window.start is not None
    yield Step("demo made and opened", window.start.demo_button.click, lambda: _is_open(window))
    place = _workplace(window)
    board = place.board.model
    yield Step("board worked out", lambda: None, lambda: not board._timer.isActive())
    for name in (*(one[0] for one in PLACES), "read_back", "schedule", "witness"):
        yield Step(f"place {name}", lambda name=name: place.go(name))
    unit = place.document.units()[0]
    yield Step("place tests", lambda: place.run_tests(unit.id, "functional_cooling"))
    for owner in ("", unit.id, place.document.units()[-1].id):
        for section in place.document.results(owner).sections():
            yield from page_steps(place, owner, section.name)
    yield from typing_steps(place, unit.id)
    yield Step("back to the board", lambda: place.go("board"), lambda: not board._timer.isActive())
    yield from output_steps(place, folder)


def _is_open(window: MainWindow) -> bool:
    return window.workplace is not None


def _workplace(window: MainWindow) -> Workplace:
    assert window.workplace is not None
    return window.workplace


def page_steps(place: Workplace, owner: str, name: str) -> Iterator[Step]:
    """A page: shown, its figures, scrolled to its end and back."""
    said = f"page {name} of {place.document.tag(owner)}"
    yield Step(said, lambda: place.open_page(owner, name))
    yield Step(f"{said}, once more", lambda: None)
    page = place.pages.page
    assert page is not None
    if page.section.figures:
        yield Step(f"{said}, its figures", place.show_figures)
    bar = page.verticalScrollBar()
    yield Step(f"{said}, scrolled", lambda: bar.setValue(bar.maximum()))


def typing_steps(place: Workplace, unit_id: str) -> Iterator[Step]:
    """A few readings of each running page typed over, key by key, and taken back."""
    for name in ("electrical", "cooling", "heating_gas", "airflow", "configuration"):
        sections = {one.name for one in place.document.results(unit_id).sections()}
        if name not in sections:
            continue
        yield Step(f"page {name} again", lambda name=name: place.open_page(unit_id, name))
        for _ in range(6):
            yield from _keys(f"typed on page {name}")


def _keys(name: str) -> Iterator[Step]:
    for letter in "12.5":
        yield Step(name, lambda letter=letter: QTest.keyClick(_focused(), letter))
    yield Step(f"{name}: Enter", lambda: QTest.keyClick(_focused(), Qt.Key.Key_Return))
    yield Step(f"{name}: undone", lambda: QTest.keyClick(_focused(), Qt.Key.Key_Z, CONTROL))
    yield Step(f"{name}: Tab", lambda: QTest.keyClick(_focused(), Qt.Key.Key_Tab))


def _focused() -> QWidget:
    widget = QApplication.focusWidget()
    return widget if widget is not None else QApplication.activeWindow()


def output_steps(place: Workplace, folder: Path) -> Iterator[Step]:
    """Workbook and package written, the workbook brought home, the log read."""
    yield Step("place export again", lambda: place.go("export"))
    export = place.place("export")
    workbook, package = export.cards  # type: ignore[attr-defined]
    for card, name in ((workbook, "workbook"), (package, "package")):
        target = folder / f"run{card.output.suffix}"
        card.target.setText(str(target))
        yield Step(f"{name} written", card.start, lambda card=card: card.job is None)
    yield Step("place read_back again", lambda: place.go("read_back"))
    back = place.place("read_back")
    yield Step(
        "workbook brought home",
        lambda: back.open_file(folder / "run.xlsx"),  # type: ignore[attr-defined]
        lambda: back.job is None and not back._waiting,  # type: ignore[attr-defined]
    )
    yield Step("place trends again", lambda: place.go("trends"))
    trends = place.place("trends")
    yield Step("log judged", lambda: None, lambda: trends.job is None)  # type: ignore[attr-defined]
    log = next(iter(folder.glob("*.csv")), None)
    if log is not None:
        form = trends.form  # type: ignore[attr-defined]
        yield Step(
            "log looked at",
            lambda: trends.read(log),  # type: ignore[attr-defined]
            lambda: trends.job is None and not form._slices.is_under_way(),  # type: ignore[attr-defined]
        )
        yield Step("log read", form.read_button.click, lambda: trends.job is None)  # type: ignore[attr-defined]
    yield Step("place deficiencies again", lambda: place.go("deficiencies"))
    yield Step("place sign_off again", lambda: place.go("sign_off"))


# -- keys ----------------------------------------------------------------------------------


def key_rows(folder: Path) -> Iterator[Row]:
    """Each number of a unit typed over, key by key, with many units open."""
    window, place = opened_window(folder, UNITS_OPEN)
    unit = place.document.units()[0]
    taken: dict[str, list[tuple[float, float]]] = {"verdict": [], "painted": [], "kept": []}
    for section in place.document.results(unit.id).sections():
        place.open_page(unit.id, section.name)
        page = place.pages.page
        assert page is not None
        QTest.qWait(60)
        for block in page.blocks:
            for text in _numbers_of(page, block):
                QApplication.processEvents()
                _type_over(page, text, taken)
    window.hide()
    for name, what, aim in (
        ("verdict", "verdict told at the line", "p99 under 8 ms"),
        ("painted", "all that follows on the page told and painted", ""),
        ("kept", "Enter to the reading on the disk, next line reached", ""),
    ):
        for place_of_time, clock in enumerate(("processor", "wall")):
            times = [pair[place_of_time] * 1e3 for pair in taken[name]]
            cuts = statistics.quantiles(times, n=100)
            shown = f"p50 {cuts[49]:.2f} p99 {cuts[98]:.2f} most {max(times):.1f} ms"
            yield f"key to {what}, {len(times):,} keys, {clock}", shown, aim


def _numbers_of(page: SectionPage, block: object) -> Iterator[str]:
    """Put the focus on each number that can be typed; yield what it holds."""
    document = page.document
    if isinstance(block, FieldRow):
        if block.field.kind is Kind.NUMBER and block.isVisibleTo(page.body):
            block.input.editor().setFocus()
            yield document.shown_text(page.unit_id, block.key)
    elif isinstance(block, GridBlock):
        for row in block.model.shape.keys[:3]:
            for key in row[:3]:
                text = document.shown_text(page.unit_id, key) if _is_number(page, key) else ""
                if text and block.focus_key(key):
                    yield text


def _is_number(page: SectionPage, key: object) -> bool:
    entry = page.document.session.plan.entries.get(getattr(key, "name", ""))
    return getattr(entry, "kind", None) is Kind.NUMBER


def _type_over(page: SectionPage, text: str, taken: dict[str, list[tuple[float, float]]]) -> None:
    if not text or text.startswith("n/a"):
        return
    QTest.keyClick(_focused(), Qt.Key.Key_A, CONTROL)
    for letter in text:
        began = time.thread_time(), time.perf_counter()
        QTest.keyClick(_focused(), letter)
        taken["verdict"].append(_since(began))
        QApplication.processEvents()
        while page.is_following():
            QApplication.processEvents()
        taken["painted"].append(_since(began))
    began = time.thread_time(), time.perf_counter()
    QTest.keyClick(_focused(), Qt.Key.Key_Return)
    QApplication.processEvents()
    taken["kept"].append(_since(began))


def _since(began: tuple[float, float]) -> tuple[float, float]:
    return time.thread_time() - began[0], time.perf_counter() - began[1]


def opened_window(folder: Path, units: int = 0) -> tuple[MainWindow, Workplace]:
    """Return a window on the demo site, with so many units, all of them computed."""
    form = load_form()
    path = folder / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, form).close()
    with Session.open(path, form) as session:
        sister = session.units()[0]
        for number in range(units - len(session.units())):
            unit = session.add_unit(f"BENCH-{number + 1}")
            session.copy_configuration(sister.id, unit.id, ("configuration", "nameplate"))
    Collector(prepared_application())
    window = MainWindow(None, Preferences.load(), lambda: form)
    window.resize(1280, 800)
    window.show()
    window.activateWindow()
    window.open_project(path)
    place = _workplace(window)
    for unit in place.document.units():
        place.document.results(unit.id)
    place.board.model.settle()
    return window, place


# -- memory --------------------------------------------------------------------------------


def memory_rows(folder: Path) -> Iterator[Row]:
    """What 200 page visits leave behind, after each of these pages was seen once."""
    window, place = opened_window(folder)
    owners = [unit.id for unit in place.document.units()[:2]]
    visits = [(u, s.name) for u in owners for s in place.document.results(u).sections()]
    most = len(visits)
    for one in visits:
        visit(place, *one)
    before, samples = _living(window), [held_mb()]
    for number in range(VISITS):
        visit(place, *visits[number % most])
        if number % 10 == 9:
            samples.append(held_mb())
    after = _living(window)
    slope = statistics.linear_regression(range(0, VISITS + 1, 10), samples).slope
    shown = f"{samples[0]:.0f} to {samples[-1]:.0f} MB, {slope * 1e3:+.0f} kB a visit"
    yield f"memory over {VISITS} page visits ({most} pages)", shown, "flat"
    for name, first, last in zip(("Qt objects", "Python objects"), before, after, strict=True):
        yield f"    {name}", f"{first:,} to {last:,}", "flat"


def visit(place: Workplace, unit_id: str, name: str) -> None:
    """Open a page and let it be painted, its figures too, and what was left be taken away."""
    place.open_page(unit_id, name)
    QTest.qWait(30)


def resident_mb() -> float:
    """Return the memory this process holds now, MB."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 1e6


def held_mb() -> float:
    """Return the memory this process holds once all that is free has been given back."""
    gc.collect()
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)
    return resident_mb()


def _living(window: MainWindow) -> tuple[int, int]:
    gc.collect()
    return len(window.findChildren(QObject)), len(gc.get_objects())


# -- labels --------------------------------------------------------------------------------


def label_rows(_folder: Path) -> Iterator[Row]:
    """Texts set on the labels of the window, and what that leaves of the texts' references."""
    prepared_application()
    appearance = Preferences.load().appearance()
    plain, strip, sign = label(""), StatusStrip(appearance), SignLabel(appearance)
    states = (OUTCOMES[Outcome.PASS], OUTCOMES[Outcome.FAIL])
    shown_in = QWidget()
    lines = QVBoxLayout(shown_in)
    for widget in (plain, strip, sign):
        lines.addWidget(widget)
    shown_in.resize(500, 200)
    shown_in.show()
    QTest.qWait(50)
    sets: dict[str, Callable[[int, str], None]] = {
        "plain label": lambda _number, text: plain.setText(text),
        "status strip": lambda _number, text: strip.say(text),
        "sign and its word": lambda number, _text: sign.show_sign(states[number % 2]),
    }
    texts = [f"Average voltage {number} V, within its limits" for number in range(100)]
    for name, act in sets.items():
        act(0, texts[0])
        held, none, memory = sys.getrefcount(texts[1]), sys.getrefcount(None), resident_mb()
        began = time.thread_time()
        for number in range(TEXTS):
            act(number, texts[number % 100])
        each = (time.thread_time() - began) / TEXTS
        QApplication.processEvents()
        shown = (
            f"{each * 1e6:.1f} us each, {resident_mb() - memory:+.1f} MB, references "
            f"{sys.getrefcount(texts[1]) - held:+d}, of None {sys.getrefcount(None) - none:+d}"
        )
        yield f"{TEXTS:,} texts set: {name}", shown, "alive, flat"


if __name__ == "__main__":
    main(sys.argv[1:])
