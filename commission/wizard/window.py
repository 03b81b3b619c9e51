"""The window: start screen or open project, and the keys that work everywhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QThread, QTimer, Signal
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QResizeEvent,
    QShortcut,
)
from PySide6.QtWidgets import QApplication, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from commission.errors import CommissionError
from commission.language import choose_language, language, spoken
from commission.wizard.appearance import style_sheet
from commission.wizard.collecting import set_aside
from commission.wizard.dialogs import Dialogs
from commission.wizard.faults import noted
from commission.wizard.icon import icon
from commission.wizard.incoming_file import dropped_file
from commission.wizard.preferences import Preferences, config_folder
from commission.wizard.preparing import Preparation, prepare, shipped_form
from commission.wizard.slices import Slices
from commission.wizard.start_screen import SUFFIX, StartScreen

if TYPE_CHECKING:
    from commission.definitions.model import Form
    from commission.validation.session import Session
    from commission.wizard.key_help import KeyHelp
    from commission.wizard.tracing import Tracing
    from commission.wizard.whereabouts import Whereabouts
    from commission.wizard.workplace import Workplace

_NAME = "Commission"
_LOOK_AGAIN_MS = 10


class DemoMaker(QThread):
    """Makes the demo site's project file, where it is not there yet.

    Signals:
        made: its path.
        refused: a sentence.
    """

    made = Signal(Path)
    refused = Signal(str)

    def __init__(self, path: Path, parent: QWidget) -> None:
        super().__init__(parent)
        self._path = path

    def run(self) -> None:
        """Have the scenario read into a new file, by a process of its own."""
        from commission.wizard.apart import WorkCancelledError, apart
        from commission.wizard.demo_work import demo_made

        try:
            if not self._path.exists():
                apart(
                    demo_made,
                    self._path,
                    told=lambda *_told: None,
                    cancelled=self.isInterruptionRequested,
                )
        except WorkCancelledError:
            return
        except CommissionError as error:
            self.refused.emit(str(error))
        except Exception as error:
            self.refused.emit(spoken("The demo site could not be made ({fault}).", fault=error))
        else:
            self.made.emit(self._path)


class MainWindow(QMainWindow):
    """Holds the start screen, or the workplace of one open project."""

    def __init__(
        self,
        dialogs: Dialogs | None = None,
        preferences: Preferences | None = None,
        load_form: Callable[[], Form] | None = None,
    ) -> None:
        super().__init__()
        self.dialogs = dialogs or Dialogs()
        self.preferences = preferences or Preferences.load()
        self.appearance = self.preferences.appearance()
        choose_language(self.preferences.language)
        self._load_form = load_form
        self.workplace: Workplace | None = None
        self.start: StartScreen | None = None
        self._demo: DemoMaker | None = None
        self._opening = Slices(self)
        self._preparing: Preparation | None = None
        self._tracing: Tracing | None = None
        self._help: KeyHelp | None = None
        self.setWindowTitle(_NAME)
        self.setAcceptDrops(True)
        self.setMinimumSize(900, 560)
        self.resize(*self.preferences.size)
        self.stack = QStackedWidget()
        self.ground = QWidget()
        self.ground.setObjectName("ground")
        layout = QVBoxLayout(self.ground)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.stack)
        self.setCentralWidget(self.ground)
        self._dress()
        self._make_keys()
        self.show_start()

    def _dress(self) -> None:
        self.setStyleSheet(style_sheet(self.appearance))
        self.setWindowIcon(icon("program", self.appearance.palette["accent"], 64))
        if self._help is not None:
            self._help.deleteLater()
        self._help = None

    @property
    def help(self) -> KeyHelp:
        """The list of keys, built when it is first asked for."""
        if self._help is None:
            from commission.wizard.key_help import KeyHelp

            self._help = KeyHelp(self.ground, self.appearance)
        return self._help

    # -- keys ----------------------------------------------------------------------

    def _make_keys(self) -> None:
        at_place = self._at_place
        keys: dict[str, Callable[[], object]] = {
            "Ctrl+N": self.ask_new,
            "Ctrl+O": self.ask_open,
            "Ctrl+B": at_place("board"),
            "Ctrl+D": at_place("deficiencies"),
            "Ctrl+Shift+D": self._in_workplace(lambda place: place.make_deficiency_at_hand()),
            "Ctrl+R": self._in_workplace(lambda place: place.run_tests()),
            "Ctrl+T": at_place("trends"),
            "Ctrl+I": at_place("people"),
            "Ctrl+E": at_place("export"),
            "Ctrl+Shift+E": at_place("read_back"),
            "Ctrl+L": at_place("schedule"),
            "Ctrl+G": at_place("sign_off"),
            "Ctrl+Shift+G": at_place("witness"),
            "Ctrl+Shift+S": self._in_workplace(lambda place: place.sign_page()),
            "Ctrl+P": self._in_workplace(lambda place: place.show_photos()),
            "Ctrl+J": self._in_workplace(lambda place: place.show_figures()),
            "Ctrl+Shift+V": self._in_workplace(lambda place: place.paste_photo()),
            "Ctrl+Shift+N": self._in_workplace(lambda place: place.who.ask()),
            "F8": self._in_workplace(lambda place: place.mark_not_applicable()),
            "Ctrl+M": self._in_workplace(lambda place: place.write_note()),
            "Ctrl+,": at_place("settings"),
            "Ctrl+K": self._in_workplace(lambda place: place.start_search()),
            "Ctrl+Z": self._in_workplace(lambda place: place.undo()),
            "Ctrl+Y": self._in_workplace(lambda place: place.redo()),
            "Ctrl+Shift+Z": self._in_workplace(lambda place: place.redo()),
            "Ctrl+PgDown": self._in_workplace(lambda place: place.step(1)),
            "Ctrl+PgUp": self._in_workplace(lambda place: place.step(-1)),
            "Alt+PgDown": self._in_workplace(lambda place: place.step_unit(1)),
            "Alt+PgUp": self._in_workplace(lambda place: place.step_unit(-1)),
            "Ctrl+Q": self.close,
            "F1": self.show_help,
        }
        for key, act in keys.items():
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.activated.connect(self._safely(act))

    def _safely(self, act: Callable[[], object]) -> Callable[[], None]:
        def run() -> None:
            try:
                act()
            except CommissionError as error:
                self.say(str(error), True)

        return run

    def _at_place(self, name: str) -> Callable[[], object]:
        return self._in_workplace(lambda place: place.go(name))

    def _in_workplace(self, act: Callable[[Workplace], object]) -> Callable[[], object]:
        def run() -> None:
            if self.workplace is not None:
                act(self.workplace)
            else:
                self.say(spoken("Open or make a project first."), True)

        return run

    def show_help(self) -> None:
        """Help with the field at hand; the keys where there is none."""
        if self.help.isVisible():
            self.help.leave()
        elif self.workplace is None or not self.workplace.help_with_field():
            self.help.show_over()

    # -- start screen ----------------------------------------------------------------

    def show_start(self) -> None:
        """Show the start screen, with the recent files as they are now."""
        if self.start is not None:
            self.stack.removeWidget(self.start)
            self.start.deleteLater()
        self.start = StartScreen(self.appearance, self.preferences, self.dialogs)
        self.start.new_wanted.connect(self.make_project)
        self.start.open_wanted.connect(self.open_soon)
        self.start.demo_wanted.connect(self.open_demo)
        self.start.language_changed.connect(self._speak_anew)
        self.stack.addWidget(self.start)
        self.stack.setCurrentWidget(self.start)
        self.start.new_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def ask_new(self) -> None:
        """Ask for a new project's title."""
        if self.start is None or self.stack.currentWidget() is not self.start:
            self.show_start()
        assert self.start is not None
        self.start.new_form.ask()

    def ask_open(self) -> None:
        """Ask for a project file."""
        assert self.start is not None
        self.start.ask_open()

    # -- opening -------------------------------------------------------------------

    def begin(self, path: Path | None = None) -> None:
        """Open what is named (None: nothing), and go back to where a crash left a person."""
        self.begin_soon(path)
        self._open_now()

    def begin_soon(self, path: Path | None = None) -> None:
        """As `begin`, piece by piece, once what it needs is ready."""
        from commission.wizard.whereabouts import left_behind

        lost = [one for one in left_behind() if path in (None, Path(one.project))]
        if path is None and lost:
            path = Path(lost[0].project)
        self._preparing = prepare()
        if path is None:
            return
        if lost and not path.exists():
            self.say(spoken("The program ended without closing; {path} is gone.", path=path), True)
            return
        self.open_soon(path, lost[0] if lost else None)

    def _form(self) -> Form:
        """Return the form as its files have it: in English."""
        return self._load_form() if self._load_form is not None else shipped_form()

    def _speak_anew(self) -> None:
        """Say everything in the language that was chosen: the project is opened again in it."""
        choose_language(self.preferences.language)
        path = self.workplace.path if self.workplace is not None else None
        self._close_workplace()
        self._dress()
        self.show_start()
        if path is not None:
            self.open_project(path)
            if self.workplace is not None:
                self.workplace.go("settings")

    def make_project(self, path: Path, title: str) -> None:
        """Make a new project file and open it."""
        from commission.validation.session import Session

        self._opening.begin(self._opened(lambda form: Session.create(path, form, title)))
        self._open_now()

    def open_project(self, path: Path) -> None:
        """Open a project file; a refusal is said in place, and the open project stays."""
        self._open_later(path)
        self._open_now()

    def open_soon(self, path: Path, back_to: Whereabouts | None = None) -> None:
        """As `open_project`, piece by piece: the window goes on answering meanwhile."""
        self._open_later(path, back_to)
        self._wait_for_what_is_prepared()

    def _open_later(self, path: Path, back_to: Whereabouts | None = None) -> None:
        open_here = self.workplace
        if open_here is not None and path.exists() and open_here.path.samefile(path):
            self.stack.setCurrentWidget(open_here)
            return

        def make(form: Form) -> Session:
            from commission.validation.session import Session

            return Session.open(path, form)

        self._opening.begin(self._opened(make, back_to))
        self._opening.pause()

    def _wait_for_what_is_prepared(self) -> None:
        """Leave the interpreter to the thread that prepares; open when it has ended."""
        if self._preparing is not None and not self._preparing.is_ready:
            QTimer.singleShot(_LOOK_AGAIN_MS, self, self._wait_for_what_is_prepared)
        else:
            self._opening.go_on()

    def _open_now(self) -> None:
        self._opening.finish()

    def _opened(
        self, make: Callable[[Form], Session], back_to: Whereabouts | None = None
    ) -> Iterator[None]:
        """Open a project and show it; what was opened is given free if it is not shown."""
        from commission.definitions.translated import translated
        from commission.wizard.document import Document
        from commission.wizard.workplace import Workplace

        QApplication.setOverrideCursor(Qt.CursorShape.WaitCursor)
        document: Document | None = None
        try:
            form = self._form()
            yield
            document = Document(make(translated(form, language())), form)
            yield
            _ = document.session.plan.order  # kept there, for the first unit that is computed
            yield
            self._close_workplace()
            workplace = Workplace(document, self.appearance, self.preferences, self.dialogs)
            yield
            workplace.place("board")
            yield
            self.workplace, document = workplace, None
        except CommissionError as error:
            self.say(str(error), True)
            return
        finally:
            QApplication.restoreOverrideCursor()
            if document is not None:
                document.close()
        self._take_in(workplace)
        project = workplace.document.session.project
        self.preferences.opened(project.path)
        reason = project.read_only_reason
        if reason:
            self.say(
                spoken(
                    "Open for reading only: {reason}. Nothing typed here is kept.", reason=reason
                ),
                True,
            )
        if back_to is not None:
            from commission.wizard.tracing import go_back

            go_back(workplace, back_to)

    def _take_in(self, workplace: Workplace) -> None:
        from commission.wizard.tracing import Tracing

        if self._tracing is not None:
            self._tracing.end()
        self._tracing = Tracing(workplace)
        workplace.look_changed.connect(self._look_changed)
        workplace.language_changed.connect(self._speak_anew)
        workplace.help_wanted.connect(self.show_help)
        self.stack.addWidget(workplace)
        self.stack.setCurrentWidget(workplace)
        title = workplace.document.session.project.title
        self.setWindowTitle(f"{title} - {_NAME}" if title else _NAME)
        workplace.go("board")
        workplace.strip.say(workplace.recording_words())
        set_aside()

    def open_demo(self) -> None:
        """Open the demo site, made first if need be."""
        if self._demo is not None:
            return
        self.say(spoken("Making the demo site ..."))
        self._demo = DemoMaker(config_folder() / f"demo_site{SUFFIX}", self)
        self._demo.made.connect(self._demo_made)
        self._demo.refused.connect(self._demo_refused)
        self._demo.start()

    def _demo_made(self, path: Path) -> None:
        self._end_demo()
        self.say("")
        self.open_soon(path)

    def _demo_refused(self, sentence: str) -> None:
        self._end_demo()
        self.say(sentence, True)

    def _end_demo(self) -> None:
        if self._demo is not None:
            self._demo.requestInterruption()
            self._demo.wait()
            self._demo.deleteLater()
            self._demo = None

    def _close_workplace(self) -> None:
        if self.workplace is not None:
            self.workplace.leave()
            self.stack.removeWidget(self.workplace)
            self.workplace.deleteLater()
            self.workplace = None

    def _look_changed(self) -> None:
        """Build the workplace anew in the new look; the project stays open."""
        workplace = self.workplace
        self.appearance = self.preferences.appearance()
        self._dress()
        if workplace is None:
            return
        from commission.wizard.workplace import Workplace

        document = workplace.document
        workplace.end_jobs()
        self.stack.removeWidget(workplace)
        workplace.detach()
        self.workplace = Workplace(document, self.appearance, self.preferences, self.dialogs)
        self._take_in(self.workplace)
        self.workplace.go("settings")

    # -- saying --------------------------------------------------------------------

    def say(self, sentence: str, is_refusal: bool = False) -> None:
        """Say a sentence where the person looks."""
        if self.workplace is not None and self.stack.currentWidget() is self.workplace:
            self.workplace.strip.say(sentence, is_refusal)
        elif self.start is not None:
            self.start.say(sentence)

    def catch(
        self, kind: type[BaseException], fault: BaseException, trace: TracebackType | None
    ) -> None:
        """Say what went wrong in a slot as a sentence; where it went wrong goes to a file."""
        if isinstance(fault, CommissionError):
            self.say(str(fault), True)
            return
        place = noted(kind, fault, trace)
        kept = (
            spoken(" What the program's makers need to know is in {file}.", file=place)
            if place
            else ""
        )
        self.say(
            spoken(
                "Something went wrong in the program ({fault}). What was entered is in the "
                "project file.{kept}",
                fault=f"{fault!r}",
                kept=kept,
            ),
            True,
        )

    # -- dropping, closing -------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped_file(event.mimeData(), (SUFFIX,)) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = dropped_file(event.mimeData(), (SUFFIX,))
        if path is not None:
            event.acceptProposedAction()
            self.open_soon(path)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._help is not None and self._help.isVisible():
            self._help.fit()

    def closeEvent(self, event: QCloseEvent) -> None:
        focused = self.focusWidget()
        if focused is not None:
            focused.clearFocus()  # what is being typed is entered when the field is left
        self._opening.stop()
        self._end_demo()
        self._close_workplace()
        if not self.isMaximized():
            self.preferences.size = (self.width(), self.height())
        self.preferences.save()
        super().closeEvent(event)
