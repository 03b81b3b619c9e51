"""Follows a person through an open project, for `whereabouts`; goes back there after a crash."""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QApplication

from commission.definitions.model import Key
from commission.language import spoken, to_say
from commission.wizard.entry_row import FieldRow
from commission.wizard.grid import GridBlock
from commission.wizard.page import SectionPage
from commission.wizard.whereabouts import Trace, Whereabouts
from commission.wizard.workplace import PLACES, Workplace

_AFTER_MS = 120
_FORM = to_say("What stood in the form was not kept yet: it stands there again.")


class Tracing(QObject):
    """Writes down page, field and what is half typed, a moment after each change."""

    def __init__(self, workplace: Workplace) -> None:
        super().__init__(workplace)
        self._workplace = workplace
        self._trace = Trace()
        self._is_over = False
        self._due = QTimer(self)
        self._due.setSingleShot(True)
        self._due.setInterval(_AFTER_MS)
        self._due.timeout.connect(self._note)
        workplace.document.typing.connect(self._start)
        workplace.document.closing.connect(self.end)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._start)
        self._note()

    def _start(self) -> None:
        if not self._due.isActive():
            self._due.start()

    def _note(self) -> None:
        self._trace.note(here(self._workplace))

    def end(self) -> None:
        """The project is closed in order."""
        if self._is_over:
            return
        self._is_over = True
        self._due.stop()
        application = QApplication.instance()
        if isinstance(application, QApplication):
            application.focusChanged.disconnect(self._start)
        self._trace.end()


def here(workplace: Workplace) -> Whereabouts:
    """Return where a person is now."""
    project = str(workplace.path.resolve())
    page = workplace.page_at_hand()
    if page is None:
        place, form = workplace.place_at_hand(), workplace.half_typed()
        return Whereabouts(project, place=place, form=form)
    key, typed = _at_hand(page)
    if key is None:
        return Whereabouts(project, page.unit_id, page.section.name)
    return Whereabouts(project, page.unit_id, page.section.name, key.name, key.index, typed)


def _at_hand(page: SectionPage) -> tuple[Key | None, str]:
    block = page.row_with_focus()
    if isinstance(block, GridBlock):
        return block.view.current_key(), block.view.typed_text()
    if isinstance(block, FieldRow):
        return block.key, block.typed_text()
    return (block.key, "") if block is not None else (None, "")


def go_back(workplace: Workplace, where: Whereabouts) -> None:
    """Go to where a person was, with what was half typed standing in its field again."""
    units = {"", *(unit.id for unit in workplace.document.units())}
    if where.place in PLACES:
        workplace.go(where.place)
        if where.form and workplace.put_half_typed(where.form):
            workplace.strip.say(f"{_ended()} {spoken(_FORM)}")
            return
    if not where.page or where.unit_id not in units:
        workplace.strip.say(_ended())
        return
    asked = {one.name for one in workplace.document.results(where.unit_id).sections()}
    if where.page not in asked:
        workplace.strip.say(_ended())
        return
    workplace.open_page(where.unit_id, where.page)
    page, key = workplace.pages.page, where.key
    if page is None or key is None or key.name not in workplace.document.session.plan.entries:
        workplace.strip.say(_ended())
        return
    page.focus_key(key)
    put_back = bool(where.typed) and page.put_typed(key, where.typed)
    workplace.strip.say(_ended(where.typed if put_back else ""))


def _ended(typed: str = "") -> str:
    said = spoken(
        "The program ended without closing. This is where you were; all that was entered is kept."
    )
    if not typed:
        return said
    half = spoken("'{typed}' was not entered yet: Enter keeps it, Esc drops it.", typed=typed[:40])
    return f"{said} {half}"
