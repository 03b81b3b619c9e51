"""The command line: what can be asked, and what a fault looks like. See `commands`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from importlib import import_module
from pathlib import Path

from commission import __version__
from commission.commands import BAD_INPUT, FINE
from commission.commands.parser_words import OPTION, argparse_speaking, asked_language
from commission.errors import CommissionError
from commission.language import ENGLISH, said_in, speaking, spoken, to_say


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return 0, 1 (something was found) or 2 (bad input)."""
    line = sys.argv[1:] if arguments is None else list(arguments)
    code = asked_language(line)
    with speaking(code), argparse_speaking(code):
        options = _parser().parse_args(line)
    try:
        with _saying(options):
            return int(options.command(options))
    except CommissionError as error:
        print(f"commission: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return FINE
    except KeyboardInterrupt:
        stopped = said_in(code, to_say("stopped; what was entered is in the project file."))
        print(f"commission: {stopped}", file=sys.stderr)
        return BAD_INPUT


def _saying(options: argparse.Namespace) -> AbstractContextManager[None]:
    """Return what lets a command speak; the window speaks as it was told there."""
    return nullcontext() if options.name == "window" else speaking(options.language or ENGLISH)


def _parser() -> argparse.ArgumentParser:
    """Return the reader of the command line, its texts in the language spoken here."""
    parser = argparse.ArgumentParser(
        prog="commission",
        description=spoken(
            "Start a packaged rooftop unit up, prove that it does what it should, and hand over "
            "a record that can be trusted."
        ),
        epilog=spoken("Exit status: 0 fine, 1 a failure, stop or conflict was found, 2 bad input."),
    )
    version = f"commission {__version__}"
    parser.add_argument(
        "--version", action="version", version=version, help=spoken("print the version and leave")
    )
    _add_language(parser, "")
    commands = parser.add_subparsers(required=True, metavar=spoken("COMMAND"))

    def command(name: str, module: str, text: str) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=text, description=_sentence(text))
        added.set_defaults(name=name, command=_later(module, name))
        return added

    for add in (_add_work, _add_outputs, _add_records, _add_store):
        add(command)
    for one in commands.choices.values():
        _add_language(one, argparse.SUPPRESS)  # left out, it does not undo what stands before it
    return parser


def _add_language(parser: argparse.ArgumentParser, default: str) -> None:
    parser.add_argument(
        OPTION,
        metavar=spoken("CODE"),
        default=default,
        help=spoken("language of what is printed and made, such as es; data stay English"),
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _later(module: str, name: str) -> Callable[[argparse.Namespace], int]:
    """Return a command whose module is imported when it runs.

    The window must not wait for the PDF library, nor a verdict table for the window.
    """

    def run(options: argparse.Namespace) -> int:
        return int(getattr(import_module(f"commission.commands.{module}"), name)(options))

    return run


VERDICTS = ("pass", "fail", "inconclusive", "missing", "not applicable")
Adder = Callable[[str, str, str], argparse.ArgumentParser]


def _add_project(parser: argparse.ArgumentParser, optional: bool = False) -> None:
    parser.add_argument(
        "file",
        type=Path,
        nargs="?" if optional else None,
        metavar=spoken("file"),
        help=spoken("project file (*.rtuproject)"),
    )


def _add_path(parser: argparse.ArgumentParser, name: str, shown: str, text: str) -> None:
    parser.add_argument(name, type=Path, metavar=shown, help=text)


def _add_output(parser: argparse.ArgumentParser, text: str, required: bool = False) -> None:
    parser.add_argument(
        "-o", "--output", type=Path, metavar=spoken("FILE"), required=required, help=text
    )


def _add_flag(parser: argparse.ArgumentParser, name: str, text: str) -> None:
    parser.add_argument(name, action="store_true", help=text)


def _add_pdf(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--pdf", type=Path, metavar=spoken("FILE"), help=spoken("write it as a report as well")
    )


def _add_unit(parser: argparse.ArgumentParser, text: str) -> None:
    parser.add_argument("--unit", metavar=spoken("TAG"), help=text)


def _add_work(command: Adder) -> None:
    window = command("window", "showing", spoken("open the window, on a project if one is named"))
    _add_project(window, optional=True)
    _add_flag(window, "--exit-when-shown", spoken("leave once the first window is painted"))
    new = command("new", "making", spoken("make a new project file"))
    _add_project(new)
    new.add_argument(
        "--title",
        default="",
        metavar=spoken("TITLE"),
        help=spoken("name of the job (the file's name if left out)"),
    )
    new.add_argument(
        "--unit", action="append", default=[], metavar=spoken("TAG"), help=spoken("add a unit")
    )
    check = command("check", "judging", spoken("judge a project and print the verdicts"))
    _add_project(check)
    _add_unit(check, spoken("one unit only"))
    _add_flag(check, "--all", spoken("passes and what is missing as well"))
    _add_flag(check, "--json", spoken("print all verdicts as JSON"))
    tests = command(
        "tests", "sequence_tests", spoken("print each unit's signals and its functional tests")
    )
    _add_project(tests)
    _add_unit(tests, spoken("one unit only"))
    _add_flag(tests, "--steps", spoken("the steps of each test as well"))
    sources = command(
        "sources", "judging", spoken("print where every formula and default limit comes from")
    )
    _add_flag(sources, "--csv", spoken("as comma-separated values"))


def _add_outputs(command: Adder) -> None:
    _add_workbook(command("workbook", "making", spoken("write the spreadsheet (.xlsx)")))
    _add_package(command("package", "turnover", spoken("write the turnover package (.pdf)")))
    archive = command(
        "archive", "making", spoken("write the machine-readable archive record (.json)")
    )
    _add_project(archive)
    _add_output(archive, spoken("where to write it"))
    _add_flag(archive, "--csv", spoken("the readings as a table"))
    sign = command(
        "sign", "turnover", spoken("sign a package with a key of your own, or list who signed it")
    )
    _add_path(sign, "file", spoken("file"), spoken("turnover package (.pdf)"))
    sign.add_argument(
        "key",
        type=Path,
        nargs="?",
        metavar=spoken("key"),
        help=spoken("key and certificate (.p12); none: list"),
    )
    sign.add_argument(
        "--field", metavar=spoken("NAME"), help=spoken("its name, such as 'RTU-1 accepted'")
    )
    handover = command("handover", "making", spoken("write the COBie 2.4 handover sheets (.csv)"))
    _add_project(handover)
    _add_path(handover, "folder", spoken("folder"), spoken("where to write them"))
    demo = command("demo", "making", spoken("make the demo site's project, workbook and package"))
    _add_path(demo, "folder", spoken("folder"), spoken("where to write them"))


def _add_workbook(workbook: argparse.ArgumentParser) -> None:
    _add_project(workbook)
    _add_output(workbook, spoken("where to write it"))
    _add_flag(
        workbook,
        "--blank",
        spoken("entry cells empty: to print, or to fill in where the program is not"),
    )
    workbook.add_argument(
        "--paper",
        choices=("letter", "a4"),
        default="",
        help=spoken("to print on (letter with IP units, A4 with SI if left out)"),
    )
    _add_per_volume(
        workbook, spoken("most units of one file (25); more are written as volumes and an index")
    )


def _add_package(package: argparse.ArgumentParser) -> None:
    _add_project(package)
    _add_output(package, spoken("where to write it"))
    _add_flag(
        package,
        "--embed",
        spoken("put workbook, archive record and the photos' originals inside, in English"),
    )
    package.add_argument(
        "--unit",
        metavar=spoken("TAG"),
        action="append",
        help=spoken("this unit only; may be repeated"),
    )
    package.add_argument(
        "--units",
        choices=("IP", "SI"),
        default="",
        help=spoken("units of measurement to show (the project's own if left out)"),
    )
    _add_per_volume(
        package, spoken("most units of one file (50); more are written as volumes and an index")
    )
    _add_flag(package, "--without-work", spoken("leave out how quantities were computed"))


def _add_per_volume(parser: argparse.ArgumentParser, text: str) -> None:
    parser.add_argument("--per-volume", type=int, metavar=spoken("UNITS"), help=text)


def _add_records(command: Adder) -> None:
    rebuild = command(
        "rebuild", "making", spoken("make a project file from an archive record alone")
    )
    _add_path(rebuild, "record", spoken("record"), spoken("archive record (.json)"))
    _add_project(rebuild)
    readback = command("readback", "reading_back", spoken("review what was typed into a workbook"))
    _add_project(readback)
    text = spoken("workbook, or one volume (.xlsx, .ods)")
    _add_path(readback, "workbook", spoken("workbook"), text)
    _add_flag(readback, "--accept", spoken("enter what only the workbook changed"))
    schedule = command("schedule", "scheduling", spoken("add units from an equipment schedule"))
    _add_project(schedule)
    text = spoken("the schedule (.csv, .xlsx, .ods)")
    _add_path(schedule, "schedule", spoken("schedule"), text)
    _add_flag(schedule, "--yes", spoken("add them; else they are only shown"))
    merge = command("merge", "joining", spoken("join two crews' project files of one site"))
    _add_path(merge, "ours", spoken("ours"), spoken("our project file"))
    _add_path(merge, "theirs", spoken("theirs"), spoken("theirs"))
    _add_output(merge, spoken("the joined file"), required=True)
    compare = command("compare", "joining", spoken("judge the drift between two archive records"))
    _add_path(compare, "baseline", spoken("baseline"), spoken("the earlier archive record"))
    _add_path(compare, "later", spoken("later"), spoken("the later archive record"))
    _add_flag(compare, "--all", spoken("what did not change as well"))
    _add_pdf(compare)
    _add_trend(
        command(
            "trend", "trends", spoken("judge a trend log (.csv) by a unit's sequence of operation")
        )
    )


def _add_trend(trend: argparse.ArgumentParser) -> None:
    _add_project(trend)
    _add_path(trend, "log", spoken("log"), spoken("the trend log (.csv)"))
    _add_unit(trend, spoken("the unit that the log is of"))
    _add_flag(trend, "--all", spoken("what passes or cannot be judged too"))
    _add_flag(trend, "--keep", spoken("keep the log in the project file"))
    trend.add_argument(
        "--zone",
        default="",
        metavar=spoken("ZONE"),
        help=spoken("the time zone of its clock: America/Denver"),
    )


def _add_store(command: Adder) -> None:
    """Declare `store` and its actions, each with the store that it is about."""
    store = command(
        "store", "portfolio", spoken("keep and search the archive records of many sites")
    )
    actions = store.add_subparsers(dest="action", required=True, metavar=spoken("ACTION"))

    def action(name: str, text: str) -> argparse.ArgumentParser:
        added = actions.add_parser(name, help=text, description=_sentence(text))
        added.add_argument(
            "--store",
            default="portfolio.rtustore",
            metavar=spoken("STORE"),
            help=spoken("the store: a file, or postgresql://USER@HOST/DATABASE (%(default)s)"),
        )
        _add_language(added, argparse.SUPPRESS)
        return added

    add = action("add", spoken("add archive records; those that are there already are passed over"))
    add.add_argument(
        "records",
        nargs="+",
        type=Path,
        metavar=spoken("records"),
        help=spoken("records, or folders of them"),
    )
    search = action("search", spoken("list units"))
    outliers = action(
        "outliers", spoken("find values that stand apart among units of a model and age")
    )
    history = action("history", spoken("show one unit over its visits"))
    for about in (search, outliers, history):
        _add_part(about, "--make", spoken("part of the make"))
        _add_part(about, "--model", spoken("part of the model"))
    for about in (search, history):
        _add_part(about, "--site", spoken("part of the site's name or the title"))
        _add_part(about, "--unit", spoken("part of the tag"))
        _add_part(about, "--serial", spoken("part of the serial number"))
    for about in (outliers, history):
        about.add_argument(
            "--name",
            action="append",
            default=[],
            dest="names",
            metavar=spoken("NAME"),
            help=spoken("a field or quantity by its name in the form; may be given again"),
        )
        _add_pdf(about)
    _add_searched(search)
    extract = action("extract", spoken("write a record out as it was added"))
    extract.add_argument(
        "record",
        type=int,
        metavar=spoken("record"),
        help=spoken("its number, as 'search' shows it"),
    )
    _add_output(extract, spoken("where to write it"), required=True)


def _add_part(parser: argparse.ArgumentParser, name: str, text: str) -> None:
    parser.add_argument(name, default="", metavar=spoken("TEXT"), help=text)


def _add_searched(search: argparse.ArgumentParser) -> None:
    """Declare what `store search` alone can be asked."""
    _add_part(search, "--words", spoken("in notes, deficiencies, overrides, failures"))
    search.add_argument(
        "--verdict", default="", choices=VERDICTS, help=spoken("of any check, or --check")
    )
    search.add_argument(
        "--check",
        default="",
        metavar=spoken("NAME"),
        help=spoken("a check by its name in the form"),
    )
    _add_flag(search, "--stop", spoken("units with a stop"))
    for name, text in (
        ("--youngest", spoken("least age when visited")),
        ("--oldest", spoken("greatest age when visited")),
    ):
        search.add_argument(name, type=float, metavar=spoken("YEARS"), help=text)
    _add_flag(search, "--all-visits", spoken("earlier visits as well"))


if __name__ == "__main__":
    sys.exit(main())
