"""One unit of the scenario typed page by page: readings, instruments, limits, overrides."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QCheckBox, QPushButton, QWidget

from commission.definitions.model import Key, Kind
from commission.engineering.chart import from_text
from commission.project.records import pass_rank
from commission.project.scenario_reading import GivenLimit, Part
from commission.project.scenario_values import GivenReading
from commission.wizard.deficiency_tie import tie_data
from commission.wizard.entry_row import EntryRow, FieldRow
from commission.wizard.grid import GridBlock
from commission.wizard.inputs import SegmentInput
from commission.wizard.instruments import InstrumentPicker
from commission.wizard.page import SectionPage
from commission.wizard.verdict_view import VerdictView
from wizard.typed_site import SiteTypist
from wizard.typist import CONTROL, TypistLostError

_LETTERS = {"done": "d", "not done": "n", "yes": "y", "no": "n"}


class UnitTypist:
    """Types one part of a scenario (the project's own pages, or a unit)."""

    def __init__(self, site: SiteTypist, unit_id: str, part: Part) -> None:
        self.site = site
        self.keys = site.keys
        self.unit_id = unit_id
        self.form = site.workplace.document.form
        self.pending: dict[str, dict[Key, GivenReading]] = {}
        for reading in part.readings:
            if reading.value is not None or reading.not_applicable:
                at = Key(reading.name, reading.index)
                self.pending.setdefault(reading.pass_name, {})[at] = reading
        self.limits = list(part.limits)
        self.overrides = list(part.overrides)
        self.deficiencies = list(part.deficiencies)
        self.now: dict[Key, GivenReading] = {}

    # -- the whole unit -------------------------------------------------------------

    def type_all(self) -> None:
        """Type pass after pass, until nothing is left or nothing more can be reached."""
        before = -1
        while self._left() != before and self._left():
            before = self._left()
            for name in sorted(self.pending, key=pass_rank):
                self.now = self.pending[name]
                if self.now or self.limits or self.overrides:
                    self.site.choose_pass(name)
                    self._sweep()
                    self._type_deficiencies()
        for entry in self.deficiencies:
            rest = dict(entry)
            tied = Key(str(rest.pop("check", "")), tuple(rest.pop("index", ())))
            about = {"about": tie_data(tied)} if tied.name else {}
            self.site.new_deficiency(self.unit_id, rest | about)

    def _left(self) -> int:
        return sum(map(len, self.pending.values())) + len(self.limits) + len(self.overrides)

    def left_over(self) -> list[str]:
        """Return what could not be typed, in words."""
        readings = [f"{key} ({name})" for name, keys in self.pending.items() for key in keys]
        return [*readings, *map(str, self.limits), *map(str, self.overrides)]

    def _sweep(self) -> None:
        """Go through the pages from the first; stop where each has something left."""
        for section in self.form.sections:
            wanted = any(self.form.section_of(key.name) is section for key in self.now)
            limits = any(self.form.section_of(one.check) is section for one in self.limits)
            if (wanted or limits) and self._open(section.name, section.title):
                self._fill_page()

    def _open(self, name: str, title: str) -> bool:
        """Open a page by Ctrl+K and its title; False if the configuration has no such page."""
        document = self.site.workplace.document
        if name not in [one.name for one in document.results(self.unit_id).sections()]:
            return False
        navigation = self.site.workplace.pages.navigation
        self.keys.press(Qt.Key.Key_K, CONTROL)
        if navigation.unit_id != self.unit_id:
            self.keys.tab_to(navigation.units, back=True)
            self.keys.choose(navigation.units, navigation.units.findData(self.unit_id))
            self.keys.press(Qt.Key.Key_K, CONTROL)
        self.keys.replace(title)
        self.keys.press(Qt.Key.Key_Return)
        for _ in range(60):  # a title may begin another page's: go on from there
            if self.page.section.name == name:
                return True
            self.keys.press(Qt.Key.Key_PageDown, CONTROL)
        raise TypistLostError(f"page '{title}' was not reached")

    @property
    def page(self) -> SectionPage:
        """The page that is open."""
        page = self.site.workplace.pages.page
        assert page is not None
        return page

    # -- one page --------------------------------------------------------------------

    def _fill_page(self) -> None:
        page = self.page
        page.complete()  # a person sees the page before typing
        QApplication.processEvents()
        self._pass_stops(page)
        if page.body.isEnabled():
            self._to_first(page)
            self._fill_from_here(page)
        QApplication.processEvents()
        for limit in list(self.limits):
            if self.form.section_of(limit.check) is page.section and page.body.isEnabled():
                self._type_limit(page, limit)
        QApplication.processEvents()

    def _pass_stops(self, page: SectionPage) -> None:
        """Go on in spite of a stop, where the scenario says who does and why."""
        for verdict in page.guard.blocking() if page.guard.isVisible() else ():
            found = next(
                (one for one in self.overrides if one["check"] == verdict.check.name), None
            )
            if found is None:
                continue
            name = page.guard._document.results(self.unit_id).label(
                Key(verdict.check.name, verdict.index)
            )
            past = self._named(page.guard, f"Go on in spite of this: {name}")
            self.keys.tab_to(past)
            self.keys.press(Qt.Key.Key_Space)
            form = page.guard.form
            assert form is not None
            self.keys.tab_to(form.name, back=True)
            self.keys.replace(found["person_name"])
            self.keys.tab()
            self.keys.type(found["reason"])
            self.keys.press(Qt.Key.Key_Return)
            self.overrides.remove(found)
            QApplication.processEvents()

    def _named(self, inside: QWidget, name: str) -> QPushButton:
        found = [one for one in inside.findChildren(QPushButton) if one.accessibleName() == name]
        if len(found) != 1:
            raise TypistLostError(f"{len(found)} buttons are called '{name}'")
        return found[0]

    def _inputs(self, page: SectionPage) -> list[EntryRow | GridBlock]:
        return [one for one in page.stops() if isinstance(one, FieldRow | GridBlock)]

    def _to_first(self, page: SectionPage) -> None:
        inputs = self._inputs(page)
        if not inputs:
            return
        first = inputs[0]
        target = first.input_widget()
        assert target is not None
        if page.row_with_focus() is not first or isinstance(first, FieldRow):
            self.keys.tab_to(target, back=True)
        if isinstance(first, GridBlock):
            self.keys.press(Qt.Key.Key_Home, CONTROL)

    def _fill_from_here(self, page: SectionPage) -> None:
        """Go down the page by Enter, typing whatever is asked and known."""
        done: set[int] = set()
        while True:
            block = page.row_with_focus()
            if block is None or id(block) in done:
                return
            done.add(id(block))
            if isinstance(block, GridBlock):
                self._fill_grid(block)
            elif isinstance(block, FieldRow):
                self._fill_row(block)
            QApplication.processEvents()
            self._to_next_input(page, done)

    def _to_next_input(self, page: SectionPage, done: set[int]) -> None:
        """From wherever a row was left, on to the next input, or past the last."""
        next_button = self.site.workplace.pages.next

        def there() -> bool:
            if self.keys.focused() is next_button:
                return True
            block = page.row_with_focus()
            if block is None or id(block) in done or block not in self._inputs(page):
                return False
            target = block.input_widget()
            return self.keys.focused() in (target, target.focusProxy() if target else None)

        blocks = self._inputs(page)
        if all(id(one) in done for one in blocks):
            return
        self.keys.tab_until(there)

    # -- a field -----------------------------------------------------------------------

    def _fill_row(self, row: FieldRow) -> None:
        reading = self.now.pop(row.key, None)
        if reading is None:
            self._pass_by(row)
            return
        text = _typed(reading)
        if isinstance(row.input, SegmentInput):
            if reading.not_applicable:
                self.keys.type(f"a{reading.not_applicable}")
                self.keys.press(Qt.Key.Key_Return)
            else:
                self.keys.type(_LETTERS[str(reading.value)])
            return
        if row.field.kind is Kind.TABLE:
            self._type_table(text)
            return
        self.keys.type(text)
        if row.field.kind is Kind.NOTE or self._needs_instrument(row.key, reading):
            self.keys.tab()
            self._pick_instrument(row, reading)
        else:
            self.keys.press(Qt.Key.Key_Return)

    def _pass_by(self, row: FieldRow) -> None:
        if row.field.kind in (Kind.NOTE, Kind.TABLE):
            self.keys.tab()
        else:
            self.keys.press(Qt.Key.Key_Return)

    def _type_table(self, text: str) -> None:
        """Type a table: heads, then row by row; the corner takes nothing."""
        lines = [line.split("\t") for line in from_text(text).to_text().split("\n")]
        has_heads = lines[0][0] == "/"
        wide = max(map(len, lines))
        for number, line in enumerate(lines):
            cells = line[1:] if has_heads and number == 0 else line + [""] * (wide - len(line))
            for cell in cells:
                if cell:
                    self.keys.type(cell)
                self.keys.tab()
            if has_heads and number == 0:
                self.keys.tab()  # past the empty column at the end
        self.keys.tab()

    # -- instruments -------------------------------------------------------------------

    def _instrument(self, reading: GivenReading) -> str:
        """Return the id of the instrument that a reading was taken with."""
        given = self.site.scenario.instruments[reading.instrument]
        name = (given["kind"], given.get("serial", ""))
        known = self.site.workplace.document.session.project.instruments()
        return next(one.id for one in known if (one.kind, one.serial) == name)

    def _needs_instrument(self, key: Key, reading: GivenReading) -> bool:
        """Return whether another instrument is proposed than the one it was taken with."""
        if not reading.instrument:
            return False
        document = self.site.workplace.document
        stored = document.results(self.unit_id).reading(*key)
        named = document.instrument_id(self.unit_id, key)
        return named != self._instrument(reading) or (
            stored is not None and stored.value is not None and stored.instrument_id != named
        )

    def _pick_instrument(self, row: FieldRow, reading: GivenReading) -> None:
        if row.picker is not None and self._needs_instrument(row.key, reading):
            self.keys.tab_to(row.picker)
            self.keys.choose(row.picker, row.picker.findData(self._instrument(reading)))

    # -- a table of repeats --------------------------------------------------------------

    def _fill_grid(self, block: GridBlock) -> None:
        """Down each column by Enter; leave by Tab at the end."""
        view, model = block.view, block.model
        self.keys.press(Qt.Key.Key_Home, CONTROL)  # it may stand where it was left
        typed: dict[str, list[tuple[Key, GivenReading]]] = {}
        for _ in range(2_000):
            key = view.current_key()
            if key is None:
                break
            reading = self.now.pop(key, None) if model.is_field(view.currentIndex()) else None
            if reading is not None:
                self._type_cell(block, key, reading)
                typed.setdefault(key.name, []).append((key, reading))
            else:
                self.keys.press(Qt.Key.Key_Return)
            if view.current_key() == key or self.keys.focused() is not view:
                break
        for name, cells in typed.items():
            self._pick_for_cells(block, name, cells)
        if self.keys.focused() is view:
            self.keys.tab_until(lambda: self.keys.focused() is not view)

    def _type_cell(self, block: GridBlock, key: Key, reading: GivenReading) -> None:
        kind = block.model.entry(key).kind  # type: ignore[union-attr]
        if kind in (Kind.ITEM, Kind.YES_NO):
            if reading.not_applicable:
                self.keys.type(f"a{reading.not_applicable}")
                self.keys.press(Qt.Key.Key_Return)
            else:
                self.keys.type(_LETTERS[str(reading.value)])
            return
        self.keys.type(_typed(reading))
        self.keys.press(Qt.Key.Key_Return)

    def _pick_for_cells(
        self, block: GridBlock, name: str, cells: list[tuple[Key, GivenReading]]
    ) -> None:
        for key, reading in cells:
            if reading.value is None or not self._needs_instrument(key, reading):
                continue
            self._go_to_cell(block, key)
            self.keys.press(Qt.Key.Key_F4)
            picker = self.keys.focused()
            if not isinstance(picker, InstrumentPicker):
                raise TypistLostError(f"F4 in the table led to {picker}, not to the instrument")
            self.keys.choose(picker, picker.findData(self._instrument(reading)))
            self.keys.tab_to(block.view, back=True)

    def _go_to_cell(self, block: GridBlock, key: Key) -> None:
        """Go to a cell by the arrows."""
        view = block.view
        if self.keys.focused() is not view:
            self.keys.tab_to(view, back=True)
        target, here = block.model.place_of(key), view.currentIndex()
        down, across = target.row() - here.row(), target.column() - here.column()
        for count, ahead, behind in (
            (down, Qt.Key.Key_Down, Qt.Key.Key_Up),
            (across, Qt.Key.Key_Right, Qt.Key.Key_Left),
        ):
            for _ in range(abs(count)):
                self.keys.press(ahead if count > 0 else behind)
        if view.current_key() != key:
            raise TypistLostError(f"the arrows did not lead to {key}")

    # -- limits ------------------------------------------------------------------------

    def _type_limit(self, page: SectionPage, limit: GivenLimit) -> None:
        view = self._limit_view(page, limit)
        if view is None:
            return
        editor = view.editor
        if editor is None:
            self.keys.tab_to(view.change)
            self.keys.press(Qt.Key.Key_Space)
            editor = view.editor
        if editor is None:
            raise TypistLostError(f"the limit of {limit.check} did not open")
        for part, value in limit.parts.items():
            self.keys.tab_to(editor.parts[part])
            self.keys.replace(f"{value:.12g}")
        self.keys.tab_to(editor.origin)
        self.keys.replace(limit.origin)
        if editor.everywhere.isVisible() and editor.everywhere.isChecked() == bool(limit.index):
            self._toggle(editor.everywhere)
        if limit.parts and self.keys.focused() is editor.origin:
            self.keys.press(Qt.Key.Key_Return)
        else:
            self.keys.tab_to(editor.keep if limit.parts else editor.confirm)
            self.keys.press(Qt.Key.Key_Space)
        if view.editor is not None:
            raise TypistLostError(f"{limit.check}: {view.editor.refusal.text()}")
        self.limits.remove(limit)

    def _toggle(self, box: QCheckBox) -> None:
        self.keys.tab_to(box)
        self.keys.press(Qt.Key.Key_Space)

    def _limit_view(self, page: SectionPage, limit: GivenLimit) -> VerdictView | None:
        """Return where a check's limit can be changed on the page that is open."""
        results = self.site.workplace.document.results(self.unit_id)
        members = results.asked_members(limit.check)
        if not members or (limit.index and limit.index not in members):
            return None
        key = Key(limit.check, limit.index or members[0])
        for block in page.stops():
            if isinstance(block, GridBlock):
                view = self._limit_in_grid(block, key)
            else:
                view = next((one for one in block.verdicts if one.key == key), None)
            if view is not None:
                return view
        return None

    def _limit_in_grid(self, block: GridBlock, key: Key) -> VerdictView | None:
        if block.model.place_of(key).isValid():
            self._go_to_cell(block, key)
            self.keys.press(Qt.Key.Key_Return)
        else:
            judged = Key(self.site.workplace.document.check_of(key.name).judges, key.index)
            if not block.model.place_of(judged).isValid():
                return None
            self._go_to_cell(block, judged)
            self.keys.press(Qt.Key.Key_F4)
        return next((one for one in block.detail.views if one.key == key), None)

    # -- deficiencies --------------------------------------------------------------------

    def _type_deficiencies(self) -> None:
        """Make those of the verdicts that fail in this pass; a later pass may mend them."""
        for entry in list(self.deficiencies):
            rest = dict(entry)
            check, index = str(rest.pop("check", "")), tuple(rest.pop("index", ()))
            if check and self._make_from_verdict(check, index, rest):
                self.deficiencies.remove(entry)

    def _make_from_verdict(
        self, check: str, index: tuple[int, ...], entry: dict[str, object]
    ) -> bool:
        section = self.form.section_of(check)
        if not self._open(section.name, section.title):
            return False
        QApplication.processEvents()
        document = self.site.workplace.document
        name = document.results(self.unit_id).label(Key(check, index))
        said = f"Make a deficiency of: {name}"
        found = [
            one
            for one in self.page.findChildren(QPushButton)
            if one.accessibleName() == said and one.isVisible() and one.isEnabled()
        ]
        if not found:
            return False
        self.keys.tab_to(found[0])
        self.keys.press(Qt.Key.Key_Space)
        self.site.type_deficiency(entry)
        return True


def _typed(reading: GivenReading) -> str:
    """Return the letters that a person types for a reading."""
    if reading.not_applicable:
        return f"n/a {reading.not_applicable}"
    return str(reading.value) if isinstance(reading.value, str) else reading.entered
