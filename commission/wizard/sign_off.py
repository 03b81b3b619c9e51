"""Sign-off: who stands for a unit's readings, and whether they are still those signed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from commission.language import spoken, spoken_count, to_say
from commission.project import SIGNATURE_ROLES, Signature
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.open_points import OpenPoints, open_points
from commission.wizard.parts import button, label, wrapping_row
from commission.wizard.record_form import ListModel, RecordList
from commission.wizard.room import Beside
from commission.wizard.sign_panel import SignPanel, is_changed
from commission.wizard.slices import Slices

_TITLES = (to_say("Unit"), to_say("Signed"), to_say("Open"))
_WIDTHS = (16, 46, 38)
_INTRO = to_say(
    "A signature stands for all readings of a unit, or of one page, as they count when it is "
    "given. What is changed later shows here. Choose a unit, then sign."
)


class SignOff(QWidget):
    """The units with their signatures, and one of them to sign.

    Signals:
        witness_wanted: a sample of the readings is to be witnessed.
    """

    witness_wanted = Signal()

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setObjectName("ground")
        self._document = document
        self._open: dict[str, OpenPoints] = {}
        self._opened_meanwhile: str | None = None
        self._slices = Slices(self)
        document.closing.connect(self._slices.stop)
        px = appearance.px
        self._model = ListModel(tuple(spoken(title) for title in _TITLES))
        self.list = RecordList(self._model, _WIDTHS, spoken("Sign-off by unit"), appearance)
        self._panel = SignPanel(document, appearance, self.points)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(8))
        head = wrapping_row(px(10))
        head.addWidget(label(spoken("Sign-off"), "title"), 1)
        self.witness = button(spoken("Witness a sample"), self.witness_wanted.emit)
        self.witness.setToolTip("Ctrl+Shift+G")
        head.addWidget(self.witness)
        layout.addLayout(head)
        layout.addWidget(label(spoken(_INTRO)))
        layout.addWidget(Beside(self.list, (self._panel,), 430, appearance), 1)
        self.list.opened.connect(self._open_unit)
        self._panel.changed.connect(self._signed)
        self._panel.left.connect(self._to_list)
        self._panel.typed.connect(document.typing)
        document.units_changed.connect(self._refresh_if_seen)
        document.replaced.connect(self._refresh_if_seen)
        document.recording_changed.connect(self._refresh_if_seen)

    @property
    def model(self) -> ListModel:
        """The units with their signatures; what is not worked out yet is worked out now."""
        self._slices.finish()
        return self._model

    @property
    def panel(self) -> SignPanel:
        """The unit that is to be signed, as it stands now."""
        self._slices.finish()
        self._panel.finish()
        return self._panel

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._slices.pause()
        self._panel.pause()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._slices.go_on()
        self._panel.go_on()

    def _refresh_if_seen(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Show how each unit stands now."""
        ids = ["", *(unit.id for unit in self._document.units())]
        first = ids[min(1, len(ids) - 1)]
        shown = self._panel.unit_id if self._open and self._panel.unit_id in ids else first
        self._opened_meanwhile = None
        self._slices.begin(self._worked_out(ids, shown))

    def _worked_out(self, ids: list[str], shown: str) -> Iterator[None]:
        """Fill list and panel, a unit at a time: a site has many, with thousands of readings."""
        found: dict[str, OpenPoints] = {}
        for unit_id in ids:
            yield from self._document.session.computing(unit_id)
            found[unit_id] = self.points(unit_id)
            yield
        self._open = found
        rows = []
        for unit_id in ids:
            given = self._document.session.project.signatures(unit_id)
            if given:
                self._document.session.project.readings(unit_id)  # kept for what follows
                yield
            for signature in given:
                is_changed(self._document, signature)  # kept until something is committed
                yield
            rows.append((unit_id, self._texts(unit_id)))
            yield
        self._model.fill(rows)
        if self._opened_meanwhile in ids:
            self.list.selectRow(ids.index(self._opened_meanwhile))
            return
        self.list.selectRow(ids.index(shown))
        yield
        if self._opened_meanwhile is None:
            self._panel.show_unit(shown, found[shown])

    def points(self, unit_id: str, page: str = "") -> OpenPoints:
        """Return what is open in a unit now, or in one page of it."""
        found = self._document.session.project.deficiencies(unit_id)
        own = self._entries_of(page)
        said = tuple(
            spoken("no. {number}, {description}", number=one.number, description=one.description)
            for one in found
            if one.status == "open" and (not page or one.check in own)
        )
        return open_points(self._document.results(unit_id), said, page)

    def _entries_of(self, page: str) -> set[str]:
        section = self._document.form.section_by_name.get(page)
        return {entry.name for entry in section.entries} if section is not None else set()

    def _texts(self, unit_id: str) -> tuple[str, ...]:
        project = self._document.session.project
        whole = {one.role: one for one in project.signatures(unit_id) if not one.section}
        lines = [self._signature_words(whole[role]) for role in SIGNATURE_ROLES if role in whole]
        due = [role for role in SIGNATURE_ROLES if role not in whole]
        if due:
            roles = ", ".join(spoken(role) for role in due)
            lines.append(spoken("not yet {roles}", roles=roles))
        pages = sum(bool(one.section) for one in project.signatures(unit_id))
        if pages:
            lines.append(
                spoken_count("{count} signature of a page", "{count} signatures of pages", pages)
            )
        return (self._document.tag(unit_id), "\n".join(lines), self._open[unit_id].counted())

    def _signature_words(self, signature: Signature) -> str:
        said = spoken(
            "{role} by {name}, {when}",
            role=spoken(signature.role),
            name=signature.printed_name,
            when=signature.at[:10],
        )
        changed = is_changed(self._document, signature)
        return f"{said}: {spoken('changed since signed')}" if changed else said

    def _open_unit(self, unit_id: str) -> None:
        """Open a unit in the form; in the list as soon as it stands there."""
        if unit_id in self._model.ids:
            self.list.selectRow(self._model.ids.index(unit_id))
        if self._slices.is_under_way():
            self._opened_meanwhile = unit_id
            self._panel.show_unit(unit_id, self.points(unit_id))
        else:
            self._panel.show_unit(unit_id, self._open[unit_id])
        self._panel.start()

    def open_page(self, unit_id: str, page: str) -> None:
        """Come to the signature of one page alone."""
        self._open_unit(unit_id)
        self._panel.choose_page(page)

    def half_typed(self) -> dict[str, str]:
        """Return what stands in the form and is not signed yet."""
        return self._panel.half_typed()

    def put_half_typed(self, typed: Mapping[str, str]) -> bool:
        """Open the form of a unit with what was typed once; return whether it is there still."""
        unit_id = typed.get("unit_id", "")
        if unit_id not in self.model.ids:
            return False
        self._open_unit(unit_id)
        self._panel.put_half_typed(typed)
        return True

    def _signed(self) -> None:
        self.refresh()
        self._to_list()

    def _to_list(self) -> None:
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)
