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


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return 0, 1 (something was found) or 2 (bad input)."""
    options = _parser().parse_args(arguments)
    try:
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

    for add in (_add_work, _add_outputs, _add_records):
        add(command)
    return parser


def _later(module: str, name: str) -> Callable[[argparse.Namespace], int]:
    """Return a command whose module is imported when it runs.

    The window must not wait for the PDF library, nor a verdict table for the window.
    """

    def run(options: argparse.Namespace) -> int:
        return int(getattr(import_module(f"commission.commands.{module}"), name)(options))

    return run


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
    sources = command(
        "sources", "judging", "print where every formula and default limit comes from"
    )
    sources.add_argument("--csv", action="store_true", help="as comma-separated values")


def _add_outputs(command: Adder) -> None:
    for name, text in (
        ("workbook", "write the spreadsheet (.xlsx)"),
        ("package", "write the turnover package (.pdf)"),
        ("archive", "write the machine-readable archive record (.json)"),
    ):
        output = command(name, "making", text)
        output.add_argument("file", type=Path)
        output.add_argument("-o", "--output", type=Path, help="where to write it")
        if name == "package":
            output.add_argument(
                "--embed", action="store_true", help="put workbook and archive record inside"
            )
        if name == "archive":
            output.add_argument("--csv", action="store_true", help="the readings as a table")
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
    readback.add_argument("workbook", type=Path)
    readback.add_argument(
        "--accept", action="store_true", help="enter what only the workbook changed"
    )
    merge = command("merge", "joining", "join two crews' project files of one site")
    merge.add_argument("ours", type=Path)
    merge.add_argument("theirs", type=Path)
    merge.add_argument("-o", "--output", type=Path, required=True, help="the joined file")
    trend = command("trend", "trends", "judge a trend log (.csv) by a unit's sequence of operation")
    trend.add_argument("file", type=Path)
    trend.add_argument("log", type=Path)
    trend.add_argument("--unit", metavar="TAG", help="the unit that the log is of")
    trend.add_argument("--all", action="store_true", help="what passes or cannot be judged too")
    compare = command("compare", "joining", "judge the drift between two archive records")
    compare.add_argument("baseline", type=Path)
    compare.add_argument("later", type=Path)
    compare.add_argument("--all", action="store_true", help="what did not change as well")


if __name__ == "__main__":
    sys.exit(main())
