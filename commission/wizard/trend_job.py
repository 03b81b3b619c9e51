"""Reading and judging a trend log in a thread of its own; the project file is not touched here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, QThread, Signal

from commission.errors import CommissionError
from commission.language import spoken
from commission.sequence.configuration import Configuration
from commission.sequence.trend_deficiency import load_titles
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_import import read_trend
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_limits import LimitInForce
from commission.sequence.trend_log import TrendLog
from commission.sequence.trend_reading import FileReading
from commission.sequence.trend_shelf import JudgedLog
from commission.sequence.trend_store import digest_of_file, packed, unpacked

Told = Callable[[int, int, str], None]
Work = Callable[[Told], object]


class TrendCancelledError(Exception):
    """The person has cancelled; raised from the progress call."""


@dataclass(frozen=True, slots=True)
class Fresh:
    """A log just read from its file: judged, packed, and which file it was."""

    shown: JudgedLog
    reading: FileReading
    digest: str
    data: bytes


class TrendJob(QThread):
    """Runs one piece of work. The window stays free; `cancel` stops it at the next step.

    Signals:
        progressed: done, total, what.
        done: what the work returned.
        refused: a sentence.
        cancelled: nothing was kept.
    """

    progressed = Signal(float, str)
    done = Signal(object)
    refused = Signal(str)
    cancelled = Signal()

    def __init__(self, work: Work, called: str, parent: QObject) -> None:
        super().__init__(parent)
        self._work = work
        self._called = called
        self._is_cancelled = False

    def cancel(self) -> None:
        """Stop at the next step."""
        self._is_cancelled = True

    def run(self) -> None:
        """Do the work; every fault becomes a sentence."""
        try:
            found = self._work(self._tell)
        except TrendCancelledError:
            self.cancelled.emit()
        except CommissionError as error:
            self.refused.emit(str(error))
        except MemoryError:
            self.refused.emit(
                spoken(
                    "{file}: more than this computer's memory holds. Export fewer days.",
                    file=self._called,
                )
            )
        except Exception as error:
            self.refused.emit(
                spoken(
                    "{file}: could not be read ({fault}). The project is unchanged.",
                    file=self._called,
                    fault=f"{type(error).__name__}: {error}",
                )
            )
        else:
            self.done.emit(found)

    def _tell(self, done: int, total: int, what: str) -> None:
        if self._is_cancelled:
            raise TrendCancelledError
        self.progressed.emit(done / total if total else 0.0, what)


def finding(path: Path, delimiter: str = "") -> Work:
    """Return the work of finding how a file is written."""

    def work(tell: Told) -> FileReading:
        tell(0, 0, spoken("looking at the file"))
        return find_reading(path, delimiter)

    return work


def reading_and_judging(
    path: Path,
    reading: FileReading,
    configuration: Configuration,
    limits: Mapping[str, LimitInForce],
) -> Work:
    """Return the work of reading a file as a person confirmed it, and judging it."""

    def work(tell: Told) -> Fresh:
        tell(0, 1, spoken("reading the log"))
        digest = digest_of_file(path)
        log = read_trend(path, reading, tell)
        shown = _judged(log, configuration, limits, tell)
        tell(1, 1, spoken("packing"))
        return Fresh(shown, reading, digest, packed(log))

    return work


def judging(
    samples: bytes | TrendLog, configuration: Configuration, limits: Mapping[str, LimitInForce]
) -> Work:
    """Return the work of judging a log that is in the project already."""

    def work(tell: Told) -> JudgedLog:
        tell(0, 1, spoken("unpacking"))
        log = samples if isinstance(samples, TrendLog) else unpacked(samples)
        return _judged(log, configuration, limits, tell)

    return work


def _judged(
    log: TrendLog, configuration: Configuration, limits: Mapping[str, LimitInForce], tell: Told
) -> JudgedLog:
    load_titles()  # which a finding that is shown asks for
    return JudgedLog(
        log, configuration, limits, tuple(judge_trend(log, configuration, limits, tell))
    )
