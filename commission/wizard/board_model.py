"""How every page of every unit stands, as a table: units down, stages and pages across.

A stage is one column until it is opened; then its pages stand beside one another. States are
worked out one unit at a time between key strokes, so that a big site never holds the window.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    QTimer,
    Signal,
)

from commission.definitions.model import Section
from commission.language import spoken, spoken_count
from commission.validation.results import SectionState
from commission.validation.verdict import Outcome
from commission.wizard.board_filter import ALL, BY_STATE, mine
from commission.wizard.document import Document
from commission.wizard.sign import Sign
from commission.wizard.states import GRAVEST_FIRST, counted, going_on, sign_of_state

_TURN_SECONDS = 0.008

Place = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class PageState:
    """One page of one unit as the board shows it."""

    name: str
    state: SectionState
    counts: str
    is_blocked: bool
    failed: int = 0


@dataclass(frozen=True, slots=True)
class Column:
    """A stage with the names of its pages, or (opened) a single page of it."""

    stage: str
    title: str
    names: tuple[str, ...]
    is_page: bool = False


@dataclass(frozen=True, slots=True)
class BoardCell:
    """What a cell shows and where it leads; `sign` None while it is not worked out."""

    sign: Sign | None = None
    words: str = ""
    target: str = ""


class BoardModel(QAbstractTableModel):
    """Rows: the project's own pages, then the units.

    Signals:
        worked_out: all states are; the table has its widths.
        settled: a round later, so that what is said of them is not made in the same one.
    """

    worked_out = Signal()
    settled = Signal()

    def __init__(self, document: Document) -> None:
        super().__init__()
        self.document = document
        self.unit_ids: list[str] = []
        self.all_ids: list[str] = []
        self.filter = ALL
        self.opened: set[str] = set()
        self.columns: list[Column] = []
        self._states: dict[str, dict[str, PageState]] = {}
        self._cells: dict[str, list[BoardCell | None]] = {}
        self._is_told = self._is_settled = False
        self._under_way: tuple[str, Iterator[PageState | None], dict[str, PageState]] | None = None
        self._is_watched = False
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._work_on)
        document.closing.connect(self._timer.stop)
        self.reload()

    # -- keeping up ----------------------------------------------------------------

    def reload(self) -> None:
        """Take on the units as they are, and work all states out anew."""
        self.beginResetModel()
        self.all_ids = ["", *(unit.id for unit in self.document.units())]
        self._states.clear()
        self._is_told = self._is_settled = False
        self._under_way = None
        self._take_columns()
        self.unit_ids = self._chosen_ids()
        self.endResetModel()
        self._go_on()

    def show_only(self, name: str) -> None:
        """Show the units of one filter of `board_filter`."""
        self.filter = name
        self._filter_anew()

    def _filter_anew(self) -> None:
        chosen = self._chosen_ids()
        if chosen != self.unit_ids:
            self.beginResetModel()
            self.unit_ids = chosen
            self.endResetModel()

    def _chosen_ids(self) -> list[str]:
        """Return the units of the filter; one that is not worked out yet stays where it was."""
        if self.filter == ALL:
            return list(self.all_ids)
        if self.filter == "mine":
            chosen = set(mine(self.document, self._states))
        else:
            fits = BY_STATE[self.filter]
            chosen = {one for one, pages in self._states.items() if fits(list(pages.values()))}
        chosen |= {one for one in self.unit_ids if one not in self._states}
        return [unit_id for unit_id in self.all_ids if unit_id in chosen]

    def counts(self) -> dict[str, int]:
        """Return how many units each filter by state has, as far as worked out."""
        found = {ALL: len(self.all_ids) - 1}
        for name, fits in BY_STATE.items():
            found[name] = sum(fits(list(pages.values())) for pages in self._states.values())
        return found

    def forget(self, unit_id: str) -> None:
        """Work a unit's states out anew (all units', for the project's own pages)."""
        if unit_id:
            self._states.pop(unit_id, None)
            self._cells.pop(unit_id, None)
        else:
            self._states.clear()
            self._cells.clear()
        self._is_told = self._is_settled = False
        if self._under_way is not None and unit_id in ("", self._under_way[0]):
            self._under_way = None
        self._go_on()

    def watch(self, watched: bool) -> None:
        """Work while somebody looks at the board, and leave the window alone meanwhile."""
        self._is_watched = watched
        self._go_on()

    def _go_on(self) -> None:
        if self._is_watched and not self._is_settled:
            self._timer.start()
        else:
            self._timer.stop()

    def settle(self) -> None:
        """Work everything out now (for pictures and tests)."""
        while self._work_out_next():
            pass
        self._tell_worked_out()
        self._tell_settled()

    def _tell_worked_out(self) -> None:
        self._is_told = True
        self._filter_anew()
        self.worked_out.emit()

    def _tell_settled(self) -> None:
        self._timer.stop()
        self._is_settled = True
        self.settled.emit()

    def _work_on(self) -> None:
        """Work for a few milliseconds, then let the window have its turn."""
        if self._is_told:
            self._tell_settled()
        elif not self._has_more():
            self._tell_worked_out()
        else:
            until = time.perf_counter() + _TURN_SECONDS
            while self._work_out_next() and time.perf_counter() < until:
                continue

    def _has_more(self) -> bool:
        return self._under_way is not None or any(u not in self._states for u in self.all_ids)

    def _work_out_next(self) -> bool:
        """Work out one page, or a piece of a unit; return whether there is more to do."""
        if self._under_way is None:
            waiting = next((u for u in self.all_ids if u not in self._states), None)
            if waiting is None:
                return False
            self._under_way = (waiting, self._pages_of(waiting), {})
            return True
        unit_id, pages, found = self._under_way
        for page in pages:
            if page is not None:
                found[page.name] = page
            return True
        self._under_way = None
        self._states[unit_id] = found
        self._cells.pop(unit_id, None)
        if unit_id in self.unit_ids:
            row = self.unit_ids.index(unit_id)
            self.dataChanged.emit(self.index(row, 0), self.index(row, self.columnCount() - 1))
        return True

    def _pages_of(self, unit_id: str) -> Iterator[PageState | None]:
        """Yield the states of a unit's pages, and None after each piece of computing it."""
        yield from self.document.session.computing(unit_id)
        results = self.document.results(unit_id)
        for section in results.sections():
            progress = results.progress(section)
            yield PageState(
                section.name,
                results.state(section),
                counted(progress),
                bool(results.blocking(section)),
                progress.outcomes.get(Outcome.FAIL, 0),
            )

    def toggle(self, stage: str) -> None:
        """Open a stage into its pages, or close it again."""
        self.beginResetModel()
        self.opened ^= {stage}
        self._take_columns()
        self.endResetModel()

    def open_all(self, opened: bool) -> None:
        """Open or close all stages."""
        self.beginResetModel()
        self.opened = {section.stage for section in self._sections()} if opened else set()
        self._take_columns()
        self.endResetModel()

    def _sections(self) -> Sequence[Section]:
        return self.document.form.sections

    def _take_columns(self) -> None:
        self.columns = self._columns()
        self._cells.clear()

    def _columns(self) -> list[Column]:
        stages: dict[str, list[Section]] = {}
        for section in self._sections():
            stages.setdefault(section.stage, []).append(section)
        columns: list[Column] = []
        for stage, sections in stages.items():
            if stage in self.opened:
                columns += [Column(stage, s.title, (s.name,), True) for s in sections]
            else:
                columns.append(Column(stage, stage, tuple(s.name for s in sections)))
        return columns

    # -- cells ---------------------------------------------------------------------

    def states(self, unit_id: str) -> dict[str, PageState]:
        """Return a unit's page states as far as worked out."""
        return self._states.get(unit_id, {})

    def cell(self, row: int, column: int) -> BoardCell | None:
        """Return a cell; None where the unit has no such page."""
        unit_id = self.unit_ids[row]
        if unit_id not in self._states:
            return BoardCell()
        if unit_id not in self._cells:  # kept, since every painting and every key asks for them
            self._cells[unit_id] = [self._cell(self._states[unit_id], one) for one in self.columns]
        return self._cells[unit_id][column]

    def _cell(self, pages: dict[str, PageState], column: Column) -> BoardCell | None:
        shown = [pages[name] for name in column.names if name in pages]
        if not shown:
            return None
        return self._page_cell(shown[0]) if len(shown) == 1 else self._stage_cell(shown)

    def _page_cell(self, page: PageState) -> BoardCell:
        return BoardCell(sign_of_state(page.state), page.counts, page.name)

    def _stage_cell(self, pages: list[PageState]) -> BoardCell:
        gravest = min(pages, key=lambda page: GRAVEST_FIRST.index(page.state))
        done = sum(page.state is SectionState.DONE for page in pages)
        state = gravest.state
        begun = any(page.state is not SectionState.EMPTY for page in pages)
        if state is SectionState.EMPTY and begun:
            state = SectionState.MISSING
        words = spoken("{done} of {total} done", done=done, total=len(pages))
        return BoardCell(sign_of_state(state), words, gravest.name)

    def rowCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.unit_ids)

    def columnCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, place: Place, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if not place.isValid():
            return None
        cell = self.cell(place.row(), place.column())
        words = "" if cell is None or cell.sign is None else f"{cell.sign.word}, {cell.words}"
        if role == Qt.ItemDataRole.DisplayRole:
            return words
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            title = self.columns[place.column()].title
            tag = self.document.tag(self.unit_ids[place.row()])
            return f"{tag}, {title}: {words or spoken('no such page')}"
        return None

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation == Qt.Orientation.Horizontal:
            return self.columns[section].title if section < len(self.columns) else None
        unit_id = self.unit_ids[section] if section < len(self.unit_ids) else ""
        return self.document.tag(unit_id)

    def flags(self, place: Place) -> Qt.ItemFlag:
        if place.isValid() and self.cell(place.row(), place.column()) is None:
            return Qt.ItemFlag.NoItemFlags
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable

    def nearest(self, row: int, column: int) -> QModelIndex:
        """Return the place in a row that is nearest to a column and has a page."""
        there = [n for n in range(self.columnCount()) if self.cell(row, n) is not None]
        nearest = min(there, key=lambda n: (abs(n - column), n), default=-1)
        return self.index(row, nearest)

    # -- in words ------------------------------------------------------------------

    def next_to_do(self) -> tuple[str, str, str] | None:
        """Return unit id, page name and a sentence for the first page that waits for a person."""
        wanted = (SectionState.MISSING, SectionState.EMPTY)
        for unit_id in self.all_ids:
            results_waiting = [
                page
                for page in self.states(unit_id).values()
                if page.state in wanted and not page.is_blocked
            ]
            if results_waiting:
                page = results_waiting[0]
                title = self.document.form.section_by_name[page.name].title
                words = f"{self.document.tag(unit_id)}: {title}"
                return unit_id, page.name, f"{words} ({page.counts})" if page.counts else words
        return None

    def stops_in_words(self) -> list[tuple[str, str, str]]:
        """Return unit id, page name and a sentence for every stop that stands."""
        found = []
        for unit_id in self.all_ids:
            states = self.states(unit_id).values()
            if not any(page.state is SectionState.STOPPED for page in states):
                continue
            results = self.document.results(unit_id)
            for verdict in results.stops():
                override = results.override_of(verdict)
                past = f" ({going_on(override)})" if override else ""
                member = results.member_label(verdict.check.name, verdict.index)
                name = f"{verdict.check.label}, {member}" if member else verdict.check.label
                tag = self.document.tag(unit_id)
                sentence = f"{tag}: {name}. {verdict.sentence}{past}"
                found.append((unit_id, verdict.check.section, sentence))
        return found

    def totals(self) -> str:
        """Return the site's counts in words."""
        states = [page.state for pages in self._states.values() for page in pages.values()]
        done = states.count(SectionState.DONE)
        failing = states.count(SectionState.FAILING)
        units = len(self.all_ids) - 1
        failed = sum(page.failed for pages in self._states.values() for page in pages.values())
        removed = len(self.document.removed_units())
        away = f" ({spoken('{count} removed', count=removed)})" if removed else ""
        words = spoken_count("{count} unit", "{count} units", units) + away
        read = spoken("{done} of {total} pages done", done=done, total=len(states))
        if not failing:
            return f"{words}, {read}"
        failures = spoken("{count} failing", count=failing)
        checks = spoken_count("{count} check failed", "{count} checks failed", failed)
        return f"{words}, {read}, {failures}, {checks}"
