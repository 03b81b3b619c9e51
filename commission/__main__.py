"""The command line: what can be asked, and what a fault looks like. See `commands`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path

from commission import __version__
from commission.commands import BAD_INPUT, FINE
from commission.errors import CommissionError
from commission.language import ENGLISH, speaking


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return 0, 1 (something was found) or 2 (bad input)."""
    options = _parser().parse_args(arguments)
    try:
        with speaking(getattr(options, "said_in", ENGLISH)):
            return int(options.command(options))
    except CommissionError as error:
        print(f"commission: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return FINE
    except KeyboardInterrupt:
        print("commission: stopped; what was entered is in the project file.", file=sys.stderr)
        return BAD_INPUT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="commission",
        description="Start a packaged rooftop unit up, prove that it does what it should, and "
        "hand over a record that can be trusted.",
        epilog="Exit status: 0 fine, 1 a failure, stop or conflict was found, 2 bad input.",
    )
    parser.add_argument("--version", action="version", version=f"commission {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, module: str, text: str) -> argparse.ArgumentParser:
        sentence = text[0].upper() + text[1:] + "."
        added = commands.add_parser(name, help=text, description=sentence)
        added.set_defaults(command=_later(module, name))
        return added

    for add in (_add_work, _add_outputs, _add_records, _add_store):
        add(command)
    for name in SAID_IN:
        commands.choices[name].add_argument(
            "--language",
            dest="said_in",
            metavar="CODE",
            default=ENGLISH,
            help="language of what is printed, such as es",
        )
    return parser


# Commands that print what they find; an output for machines stays as it is.
SAID_IN = ("check", "tests", "readback", "schedule", "merge", "trend")


def _later(module: str, name: str) -> Callable[[argparse.Namespace], int]:
    """Return a command whose module is imported when it runs.

    The window must not wait for the PDF library, nor a verdict table for the window.
    """

    def run(options: argparse.Namespace) -> int:
        return int(getattr(import_module(f"commission.commands.{module}"), name)(options))

    return run


VERDICTS = ("pass", "fail", "inconclusive", "missing", "not applicable")
Adder = Callable[[str, str, str], argparse.ArgumentParser]


def _add_work(command: Adder) -> None:
    window = command("window", "showing", "open the window, on a project if one is named")
    window.add_argument("file", nargs="?", type=Path, help="project file (*.rtuproject)")
    window.add_argument(
        "--exit-when-shown", action="store_true", help="leave once the first window is painted"
    )
    new = command("new", "making", "make a new project file")
    new.add_argument("file", type=Path)
    new.add_argument("--title", default="", help="name of the job (the file's name if left out)")
    new.add_argument("--unit", action="append", default=[], metavar="TAG", help="add a unit")
    check = command("check", "judging", "judge a project and print the verdicts")
    check.add_argument("file", type=Path)
    check.add_argument("--unit", metavar="TAG", help="one unit only")
    check.add_argument("--all", action="store_true", help="passes and what is missing as well")
    check.add_argument("--json", action="store_true", help="print all verdicts as JSON")
    tests = command("tests", "sequence_tests", "print each unit's signals and its functional tests")
    tests.add_argument("file", type=Path)
    tests.add_argument("--unit", metavar="TAG", help="one unit only")
    tests.add_argument("--steps", action="store_true", help="the steps of each test as well")
    sources = command(
        "sources", "judging", "print where every formula and default limit comes from"
    )
    sources.add_argument("--csv", action="store_true", help="as comma-separated values")


def _add_outputs(command: Adder) -> None:
    for name, module, text in (
        ("workbook", "making", "write the spreadsheet (.xlsx)"),
        ("package", "turnover", "write the turnover package (.pdf)"),
        ("archive", "making", "write the machine-readable archive record (.json)"),
    ):
        output = command(name, module, text)
        output.add_argument("file", type=Path)
        output.add_argument("-o", "--output", type=Path, help="where to write it")
        if name == "workbook":
            output.add_argument(
                "--blank",
                action="store_true",
                help="entry cells empty: to print, or to fill in where the program is not",
            )
            output.add_argument(
                "--paper",
                choices=("letter", "a4"),
                default="",
                help="to print on (letter with IP units, A4 with SI if left out)",
            )
            output.add_argument(
                "--language",
                metavar="CODE",
                default="en",
                help="language of the workbook, such as es; it comes home in any",
            )
            output.add_argument(
                "--per-volume",
                type=int,
                metavar="UNITS",
                help="most units of one file (25); more are written as volumes and an index",
            )
        if name == "package":
            output.add_argument(
                "--language",
                metavar="CODE",
                default="en",
                help="language of the package, such as es; what is embedded stays English",
            )
            output.add_argument(
                "--embed",
                action="store_true",
                help="put workbook, archive record and the photos' originals inside",
            )
            output.add_argument(
                "--unit", metavar="TAG", action="append", help="this unit only; may be repeated"
            )
            output.add_argument(
                "--units",
                choices=("IP", "SI"),
                default="",
                help="units of measurement to show (the project's own if left out)",
            )
            output.add_argument(
                "--per-volume",
                type=int,
                metavar="UNITS",
                help="most units of one file (50); more are written as volumes and an index",
            )
            output.add_argument(
                "--without-work", action="store_true", help="leave out how quantities were computed"
            )
        if name == "archive":
            output.add_argument("--csv", action="store_true", help="the readings as a table")
    sign = command(
        "sign", "turnover", "sign a package with a key of your own, or list who signed it"
    )
    sign.add_argument("file", type=Path, help="turnover package (.pdf)")
    sign.add_argument("key", type=Path, nargs="?", help="key and certificate (.p12); none: list")
    sign.add_argument("--field", metavar="NAME", help="its name, such as 'RTU-1 accepted'")
    handover = command("handover", "making", "write the COBie 2.4 handover sheets (.csv)")
    handover.add_argument("file", type=Path)
    handover.add_argument("folder", type=Path)
    demo = command("demo", "making", "make the demo site's project, workbook and package")
    demo.add_argument("folder", type=Path)


def _add_records(command: Adder) -> None:
    rebuild = command("rebuild", "making", "make a project file from an archive record alone")
    rebuild.add_argument("record", type=Path)
    rebuild.add_argument("file", type=Path)
    readback = command("readback", "reading_back", "review what was typed into a workbook")
    readback.add_argument("file", type=Path)
    readback.add_argument("workbook", type=Path, help="workbook, or one volume (.xlsx, .ods)")
    readback.add_argument(
        "--accept", action="store_true", help="enter what only the workbook changed"
    )
    schedule = command("schedule", "scheduling", "add units from an equipment schedule")
    schedule.add_argument("file", type=Path)
    schedule.add_argument("schedule", type=Path, help="the schedule (.csv, .xlsx, .ods)")
    schedule.add_argument("--yes", action="store_true", help="add them; else they are only shown")
    merge = command("merge", "joining", "join two crews' project files of one site")
    merge.add_argument("ours", type=Path)
    merge.add_argument("theirs", type=Path)
    merge.add_argument("-o", "--output", type=Path, required=True, help="the joined file")
    trend = command("trend", "trends", "judge a trend log (.csv) by a unit's sequence of operation")
    trend.add_argument("file", type=Path)
    trend.add_argument("log", type=Path)
    trend.add_argument("--unit", metavar="TAG", help="the unit that the log is of")
    trend.add_argument("--all", action="store_true", help="what passes or cannot be judged too")
    trend.add_argument("--keep", action="store_true", help="keep the log in the project file")
    trend.add_argument("--zone", default="", help="the time zone of its clock: America/Denver")
    compare = command("compare", "joining", "judge the drift between two archive records")
    compare.add_argument("baseline", type=Path)
    compare.add_argument("later", type=Path)
    compare.add_argument("--all", action="store_true", help="what did not change as well")
    compare.add_argument("--pdf", type=Path, metavar="FILE", help="write it as a report as well")


def _add_store(command: Adder) -> None:
    """Declare `store` and its actions, each with the store that it is about."""
    store = command("store", "portfolio", "keep and search the archive records of many sites")
    actions = store.add_subparsers(dest="action", required=True, metavar="ACTION")

    def action(name: str, text: str) -> argparse.ArgumentParser:
        added = actions.add_parser(name, help=text, description=f"{text[0].upper()}{text[1:]}.")
        added.add_argument(
            "--store",
            default="portfolio.rtustore",
            metavar="STORE",
            help="the store: a file, or postgresql://USER@HOST/DATABASE (%(default)s)",
        )
        return added

    add = action("add", "add archive records; those that are there already are passed over")
    add.add_argument("records", nargs="+", type=Path, help="records, or folders of them")
    search = action("search", "list units")
    outliers = action("outliers", "find values that stand apart among units of a model and age")
    history = action("history", "show one unit over its visits")
    for about in (search, outliers, history):
        about.add_argument("--make", default="", help="part of the make")
        about.add_argument("--model", default="", help="part of the model")
    for about in (search, history):
        about.add_argument("--site", default="", help="part of the site's name or the title")
        about.add_argument("--unit", default="", metavar="TAG", help="part of the tag")
        about.add_argument("--serial", default="", help="part of the serial number")
    for about in (outliers, history):
        about.add_argument(
            "--name",
            action="append",
            default=[],
            dest="names",
            help="a field or quantity by its name in the form; may be given again",
        )
        about.add_argument("--pdf", type=Path, metavar="FILE", help="write it as a report as well")
    search.add_argument("--words", default="", help="in notes, deficiencies, overrides, failures")
    search.add_argument("--verdict", default="", choices=VERDICTS, help="of any check, or --check")
    search.add_argument("--check", default="", help="a check by its name in the form")
    search.add_argument("--stop", action="store_true", help="units with a stop")
    search.add_argument("--youngest", type=float, metavar="YEARS", help="least age when visited")
    search.add_argument("--oldest", type=float, metavar="YEARS", help="greatest age when visited")
    search.add_argument("--all-visits", action="store_true", help="earlier visits as well")
    extract = action("extract", "write a record out as it was added")
    extract.add_argument("record", type=int, help="its number, as 'search' shows it")
    extract.add_argument("-o", "--output", type=Path, required=True, help="where to write it")


if __name__ == "__main__":
    sys.exit(main())
