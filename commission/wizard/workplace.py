"""An open project on the screen: header, the place chosen, and the status strip."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from commission.definitions.model import Key
from commission.errors import CommissionError
from commission.language import spoken
from commission.project import AS_FOUND, pass_rank
from commission.validation.sentences import pass_words
from commission.validation.session import Entered
from commission.wizard.appearance import Appearance
from commission.wizard.board import Board
from commission.wizard.book_keeper import BookKeeper
from commission.wizard.deficiency_log import DeficiencyLog
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.entry_row import FieldRow
from commission.wizard.export_place import ExportPlace
from commission.wizard.grid import GridBlock
from commission.wizard.header import Header, StatusStrip
from commission.wizard.page import SectionPage
from commission.wizard.pages import Pages
from commission.wizard.people_and_instruments import PeopleAndInstruments
from commission.wizard.preferences import Preferences
from commission.wizard.room import FittedArea, RoomyStack
from commission.wizard.settings_place import SettingsPlace
from commission.wizard.sign_off import SignOff
from commission.wizard.who_records import WhoRecords
from commission.wizard.witness_place import WitnessPlace

PLACES = (
    "board",
    "deficiencies",
    "trends",
    "tests",
    "sign_off",
    "witness",
    "people",
    "export",
    "read_back",
    "schedule",
    "settings",
)
"""The places that can be gone to by name; the pages are gone to by unit and section."""


class Workplace(QWidget):
    """One open project. Places but the board are built when first gone to.

    Signals:
        look_changed: palette or size was changed.
        language_changed: another language was chosen.
        help_wanted: show the keys.
    """

    look_changed = Signal()
    language_changed = Signal()
    help_wanted = Signal()

    def __init__(
        self,
        document: Document,
        appearance: Appearance,
        preferences: Preferences,
        dialogs: Dialogs,
    ) -> None:
        super().__init__()
        self.setObjectName("ground")
        self.document = document
        self._appearance = appearance
        self._preferences = preferences
        self._dialogs = dialogs
        self._places: dict[str, QWidget] = {}
        self._recall()
        BookKeeper.of(document)
        self.header = Header(document, appearance)
        self.who = WhoRecords(document, appearance)
        self.strip = StatusStrip(appearance)
        self.stack = RoomyStack()
        whole = QWidget()
        whole.setObjectName("ground")
        inside = QVBoxLayout(whole)
        layout = QVBoxLayout(self)
        for column in (inside, layout):
            column.setContentsMargins(0, 0, 0, 0)
            column.setSpacing(0)
        inside.addWidget(self.header)
        inside.addWidget(self.who)
        inside.addWidget(self.stack, 1)
        self.area = FittedArea(inside)
        layout.addWidget(self.area, 1)
        layout.addWidget(self.strip)
        self.header.place_wanted.connect(self.go)
        self.header.undo_wanted.connect(self.undo)
        self.header.redo_wanted.connect(self.redo)
        self.header.help_wanted.connect(self.help_wanted)
        self._follow(document)
        self.strip.say(spoken("Everything typed is kept at once; there is no Save."))
        self.strip.right.setText(self.path.name)
        self._count_deficiencies()

    def _follow(self, document: Document) -> None:
        document.said.connect(self.strip.say)
        document.committed.connect(self._committed)
        document.replaced.connect(self.header.refresh)
        document.units_changed.connect(self.header.refresh)
        document.deficiencies_changed.connect(self._count_deficiencies)
        document.deficiencies_changed.connect(self.header.refresh_undo)
        document.photos_changed.connect(lambda _unit: self.header.refresh_undo())
        document.recording_changed.connect(self._recording_changed)
        document.instrument_chosen.connect(self._instrument_chosen)

    def _committed(self, _unit_id: str, _changed: object) -> None:
        self.header.refresh_undo()
        if self.strip.property("tone") == "error":
            self.strip.say("")

    # -- who records, and which pass -------------------------------------------------

    def _recall(self) -> None:
        """Take up person and pass where this computer left them in this project."""
        session = self.document.session
        person, pass_name = self._preferences.recording_of(session.project.uuid)
        if not session.person_id and self.document.person_name(person):
            self.document.choose_person(person)
        self.document.recall_instruments(self._preferences.instruments_of(session.project.uuid))
        try:
            pass_rank(pass_name)
        except CommissionError:
            return
        session.pass_name = pass_name

    def _recording_changed(self) -> None:
        session = self.document.session
        self._preferences.remember_recording(
            session.project.uuid, session.person_id, session.pass_name
        )
        self.header.refresh()

    def _instrument_chosen(self, _kind: str) -> None:
        session = self.document.session
        self._preferences.remember_instruments(
            session.project.uuid, self.document.chosen_instruments()
        )

    def recording_words(self) -> str:
        """Return what was taken up from the last time, in words; "" for nothing."""
        session = self.document.session
        name = self.document.person_name(session.person_id)
        if not name and session.pass_name == AS_FOUND:
            return ""
        return spoken(
            "As last time: recorded as '{pass_name}', by {name}.",
            pass_name=pass_words(session.pass_name),
            name=name or spoken("nobody named"),
        )

    @property
    def path(self) -> Path:
        """The open project's file."""
        return self.document.session.project.path

    # -- places --------------------------------------------------------------------

    def place(self, name: str) -> QWidget:
        """Return a place, built if need be."""
        if name not in self._places:
            made = self._made(name)
            self._places[name] = made
            self.stack.addWidget(made)
        return self._places[name]

    def _made(self, name: str) -> QWidget:
        document, look = self.document, self._appearance
        if name == "board":
            board = Board(document, look)
            board.page_wanted.connect(self.open_page)
            board.schedule_wanted.connect(self.read_schedule)
            return board
        if name == "pages":
            pages = Pages(document, look, self._dialogs)
            pages.deficiency_wanted.connect(self.make_deficiency)
            pages.tests_wanted.connect(self.run_tests)
            return pages
        if name == "deficiencies":
            log = DeficiencyLog(document, look)
            log.go_wanted.connect(self._go_to_key)
            return log
        if name == "trends":
            return self._trends()
        if name == "tests":
            return self._tests()
        if name == "sign_off":
            sign_off = SignOff(document, look)
            sign_off.witness_wanted.connect(lambda: self.go("witness"))
            return sign_off
        if name == "witness":
            return WitnessPlace(document, look)
        if name == "people":
            return PeopleAndInstruments(document, look)
        if name == "export":
            return self._export()
        if name == "read_back":
            return self._read_back()
        if name == "schedule":
            return self._schedule()
        settings = SettingsPlace(document, look, self._preferences, self._dialogs)
        settings.look_changed.connect(self.look_changed)
        settings.language_changed.connect(self.language_changed)
        return settings

    def _tests(self) -> QWidget:
        from commission.wizard.stepper_place import StepperPlace

        tests = StepperPlace(self.document, self._appearance)
        tests.page_wanted.connect(self.open_page)
        tests.go_wanted.connect(self._go_to_key)
        tests.deficiency_wanted.connect(self.make_deficiency)
        self.stack.currentChanged.connect(
            lambda _place: tests.leave() if self.stack.currentWidget() is not tests else None
        )
        return tests

    def _go_to_key(self, unit_id: str, key: Key) -> None:
        self._show_pages()
        self.pages.go_to(unit_id, key)

    def run_tests(self, unit_id: str = "", section: str = "") -> None:
        """Go to the functional tests: of a page, of the page that is open, or where they were."""
        at_page = self.stack.currentWidget() is self._places.get("pages")
        page = self.pages.page if at_page and not unit_id else None
        if page is not None:
            unit_id, section = page.unit_id, page.section.name
        tests = self.place("tests")
        if unit_id or not tests.unit_id:  # type: ignore[attr-defined]
            tests.open(unit_id, section)  # type: ignore[attr-defined]
        self.go("tests")

    def _export(self) -> QWidget:
        export = ExportPlace(self.document, self._appearance, self._dialogs)
        export.read_back_wanted.connect(lambda: self.go("read_back"))
        return export

    def _schedule(self) -> QWidget:
        from commission.wizard.schedule_place import SchedulePlace

        schedule = SchedulePlace(self.document, self._appearance, self._dialogs)
        schedule.added.connect(self._schedule_added)
        return schedule

    def _schedule_added(self, unit_id: str) -> None:
        """Show the first unit that a schedule has brought."""
        self.go("board")
        self.board.show_unit(unit_id)

    def read_schedule(self, path: Path | None = None) -> None:
        """Go to the schedules; read one if it is named."""
        self.go("schedule")
        if path is not None:
            self.place("schedule").open_file(path)  # type: ignore[attr-defined]

    def _read_back(self) -> QWidget:
        from commission.wizard.read_back_place import ReadBackPlace

        back = ReadBackPlace(self.document, self._appearance, self._dialogs)
        back.said.connect(self.strip.say)
        return back

    def _trends(self) -> QWidget:
        # Imported when first gone to: numpy is not loaded for a window that has no log.
        from commission.wizard.trend_place import TrendPlace

        trends = TrendPlace(self.document, self._appearance, self._dialogs)
        trends.deficiency_wanted.connect(self.make_deficiency_of)
        return trends

    def go(self, name: str) -> None:
        """Go to a place by its name."""
        self._leave_field()
        self.strip.say("")
        is_new = name not in self._places
        place = self.place(name)
        if isinstance(place, SignOff) or (
            isinstance(place, DeficiencyLog | PeopleAndInstruments) and not is_new
        ):
            place.refresh()
        self.stack.setCurrentWidget(place)
        self.header.mark(name)
        target = place.entry() if isinstance(place, Board) else place
        if isinstance(place, DeficiencyLog | SignOff):
            target = place.list
        elif isinstance(place, PeopleAndInstruments):
            target = place.people_list
        if isinstance(place, WitnessPlace):
            place.refresh()
            place.start()
            return
        if name == "tests":
            place.start()  # type: ignore[attr-defined]
            return
        if name == "trends":
            place.refresh()  # type: ignore[attr-defined]
            place.start()  # type: ignore[attr-defined]
            return
        if target is place:
            place.setFocus(Qt.FocusReason.OtherFocusReason)
            place.focusNextChild()
        else:
            target.setFocus(Qt.FocusReason.OtherFocusReason)

    def _leave_field(self) -> QWidget | None:
        """Enter what is being typed before the place changes; return what had the focus."""
        focused = self.window().focusWidget()
        if focused is None or not self.stack.isAncestorOf(focused):
            return None
        focused.clearFocus()
        return focused

    @property
    def board(self) -> Board:
        """The board."""
        board = self.place("board")
        assert isinstance(board, Board)
        return board

    @property
    def pages(self) -> Pages:
        """The pages."""
        pages = self.place("pages")
        assert isinstance(pages, Pages)
        return pages

    def open_page(self, unit_id: str, name: str) -> None:
        """Open a page of a unit."""
        self._show_pages()
        self.strip.say("")
        self.pages.open(unit_id, name)

    def _show_pages(self) -> None:
        self.stack.setCurrentWidget(self.pages)
        self.header.mark("")

    def step(self, by: int) -> None:
        """Next page, or the page before."""
        was_there = self.stack.currentWidget() is self._places.get("pages")
        self._moving(lambda: (was_there or self.pages.page is None) and self.pages.step(by))

    def step_unit(self, by: int) -> None:
        """The same page of another unit."""
        self._moving(lambda: self.pages.step_unit(by))

    def _moving(self, move: Callable[[], bool]) -> None:
        """Enter what is being typed, then move; where there is nowhere to go, stay there."""
        focused = self._leave_field()
        self._show_pages()
        self.pages.catch_up()
        if not move() and focused is not None:
            focused.setFocus(Qt.FocusReason.OtherFocusReason)

    def start_search(self) -> None:
        """Look for a page or a reading."""
        self._leave_field()
        if self.pages.page is None:
            self.pages.open_first()
        self._show_pages()
        self.pages.start_search()

    def make_deficiency(self, unit_id: str, key: Key) -> None:
        """Begin a deficiency of a failed verdict."""
        self.go("deficiencies")
        log = self.place("deficiencies")
        assert isinstance(log, DeficiencyLog)
        log.ask_for_verdict(unit_id, key)

    def make_deficiency_of(self, unit_id: str, texts: dict[str, str]) -> None:
        """Begin a deficiency with what is known filled in."""
        self.go("deficiencies")
        log = self.place("deficiencies")
        assert isinstance(log, DeficiencyLog)
        log.ask_with(unit_id, texts)

    def make_deficiency_at_hand(self) -> None:
        """Begin a deficiency of the reading or verdict at hand; elsewhere, one of no reading."""
        page = self.page_at_hand()
        key = page.key_at_hand() if page is not None else None
        self.go("deficiencies")
        log = self.place("deficiencies")
        assert isinstance(log, DeficiencyLog)
        if page is not None and key is not None:
            log.ask_about(page.unit_id, key)
        else:
            log.ask_new(page.unit_id if page is not None else "")

    def _count_deficiencies(self) -> None:
        found = self.document.session.project.deficiencies()
        self.header.show_deficiencies(sum(one.status == "open" for one in found))

    # -- undo, help ------------------------------------------------------------------

    def undo(self) -> None:
        """Take back the last entry, and go to its field."""
        self._go_to(self._leave_field(), self.document.undo())

    def redo(self) -> None:
        """Put it again, and go to its field."""
        self._go_to(self._leave_field(), self.document.redo())

    def _go_to(self, focused: QWidget | None, entered: Entered | None) -> None:
        self.header.refresh_undo()
        if entered is None:
            if focused is not None:
                focused.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        if entered.key.name not in self.document.session.plan.entries:
            return  # no line of a page: a deficiency, or a photo of the unit as a whole
        self._show_pages()
        self.pages.go_to(entered.unit_id, entered.key)
        if self.pages.page is not None:
            self.pages.page.forget_refusal(entered.key)

    def show_photos(self) -> None:
        """Go to the photos of the page that is open."""
        page = self._open_page()
        if page is not None:
            page.photos.start(page.photo_key())

    def show_figures(self) -> None:
        """Go to the figures of the page that is open."""
        page = self._open_page(spoken("Open a page first; figures belong to a page."))
        if page is not None and not page.show_figures():
            self.strip.say(spoken("This page has no figures."))

    def paste_photo(self) -> None:
        """Take a copied picture as a photo of the field at hand, or of the unit."""
        page = self._open_page()
        if page is not None:
            page.photos.paste(page.photo_key())

    def mark_not_applicable(self) -> None:
        """Begin "n/a" in the field at hand; what is missing is its reason."""
        page = self._open_page(spoken("Go to a field first; n/a is an answer to a field."))
        line = page.row_with_focus() if page is not None else None
        if isinstance(line, FieldRow | GridBlock):
            line.mark_not_applicable()

    def sign_page(self) -> None:
        """Go to sign the page that is open, alone; elsewhere to the sign-off."""
        page = self.page_at_hand()
        self.go("sign_off")
        sign_off = self.place("sign_off")
        assert isinstance(sign_off, SignOff)
        if page is not None:
            sign_off.open_page(page.unit_id, page.section.name)

    def write_note(self) -> None:
        """Begin a note on the reading at hand."""
        page = self._open_page(spoken("Go to a field first; a note belongs to a reading."))
        line = page.row_with_focus() if page is not None else None
        if isinstance(line, FieldRow | GridBlock):
            line.write_note()
        elif page is not None:
            self.strip.say(spoken("Go to a field first; a note belongs to a reading."))

    def place_at_hand(self) -> str:
        """Return the name of the place that is shown now; "" for a page."""
        shown = self.stack.currentWidget()
        return next((n for n in PLACES if self._places.get(n) is shown), "")

    def half_typed(self) -> dict[str, str]:
        """Return what stands in the form of the place that is shown, and is not kept yet."""
        shown = self.stack.currentWidget()
        if not isinstance(shown, DeficiencyLog | PeopleAndInstruments | SignOff):
            return {}
        return shown.half_typed()

    def put_half_typed(self, typed: Mapping[str, str]) -> bool:
        """Open a form of the place that is shown with what was typed; return whether it has one."""
        shown = self.stack.currentWidget()
        if isinstance(shown, SignOff):
            return shown.put_half_typed(typed)
        if not isinstance(shown, DeficiencyLog | PeopleAndInstruments):
            return False
        shown.put_half_typed(typed)
        return True

    def page_at_hand(self) -> SectionPage | None:
        """Return the page that is shown now, or None at another place."""
        shown = self.stack.currentWidget() is self._places.get("pages")
        return self.pages.page if shown and "pages" in self._places else None

    def _open_page(self, refusal: str = "") -> SectionPage | None:
        if self.stack.currentWidget() is self._places.get("pages") and self.pages.page is not None:
            return self.pages.page
        self.strip.say(refusal or spoken("Open a page first; photos belong to a page."))
        return None

    def help_with_field(self) -> bool:
        """Show how the reading at hand is found; return whether there is one."""
        if self.stack.currentWidget() is not self._places.get("pages"):
            return False
        page = self.pages.page
        line = page.row_with_focus() if page is not None else None
        if line is None:
            return False
        line.toggle_help()
        return True

    # -- leaving -------------------------------------------------------------------

    def end_jobs(self) -> None:
        """Cancel what is being written."""
        export = self._places.get("export")
        if isinstance(export, ExportPlace):
            export.stop()
        schedule = self._places.get("schedule")
        if schedule is not None:
            schedule.stop()  # type: ignore[attr-defined]
        back = self._places.get("read_back")
        if back is not None:
            back.stop()  # type: ignore[attr-defined]
        pages = self._places.get("pages")
        if isinstance(pages, Pages):
            pages.end_jobs()
        trends = self._places.get("trends")
        if trends is not None:
            trends.stop()  # type: ignore[attr-defined]

    def detach(self) -> None:
        """Go away without closing the project."""
        self._leave_field()
        self.hide()
        self.deleteLater()

    def leave(self) -> None:
        """Enter what is being typed, cancel what is being written, close the project."""
        self._leave_field()
        self.end_jobs()
        self.document.close()
