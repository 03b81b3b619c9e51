#!/usr/bin/env python3
"""Keep the catalogues of translations true to the code and the forms.

    .venv/bin/python .ci/languages.py update [CODE ...]    new texts in, gone ones out
    .venv/bin/python .ci/languages.py compile              PO -> MO, which the program reads
    .venv/bin/python .ci/languages.py missing [CODE ...]   what is not translated yet

A translator edits `commission/languages/<code>/LC_MESSAGES/*.po`. `update` of a new code makes
its files. tests/test_language.py holds that nothing is missing and that MO says what PO says.
"""

from __future__ import annotations

import ast
import io
import sys
from collections.abc import Callable, Iterator
from datetime import datetime, timezone
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from babel.messages.catalog import Catalog  # noqa: E402
from babel.messages.mofile import write_mo  # noqa: E402
from babel.messages.pofile import read_po, write_po  # noqa: E402

from commission.definitions.load import load_form  # noqa: E402
from commission.definitions.translated import texts_of, texts_said  # noqa: E402
from commission.engineering.refrigerant import REFRIGERANTS  # noqa: E402
from commission.formula.functions import FUNCTIONS  # noqa: E402
from commission.formula.reference_tables import reference_tables  # noqa: E402
from commission.language import DOMAINS, ENGLISH, LANGUAGES_FOLDER, languages  # noqa: E402
from commission.sequence.functional_load import sequence_of  # noqa: E402
from commission.sequence.rules import rule_book  # noqa: E402


def form_texts() -> Iterator[tuple[str, str]]:
    """Yield (text, place) of the shipped form and of the functional tests that go with it."""
    form = load_form()
    yield from texts_of(form)
    yield from texts_said(sequence_of(form), "sequence")


def program_texts() -> Iterator[tuple[str, str]]:
    """Yield (text, file) of each text that the code gives to `spoken` or marks with `to_say`."""
    known = {text for text, _ in form_texts()}
    rows = (*texts_said(rule_book(), "trend rules"), *function_texts(), *table_texts())
    yield from (row for row in rows if row[0] not in known)
    for path in sorted((ROOT / "commission").rglob("*.py")):
        for text in said_in_code(path.read_text(encoding="utf-8")):
            if text not in known:
                yield text, path.relative_to(ROOT).as_posix()


def function_texts() -> Iterator[tuple[str, str]]:
    """Yield (text, place) of what the table of functions says of each: its range, its source."""
    for function in FUNCTIONS.values():
        yield function.valid, f"function {function.name}"
        yield function.source, f"function {function.name}"


def table_texts() -> Iterator[tuple[str, str]]:
    """Yield (text, place) of what each reference table of a workbook says, and of its tab."""
    for table in reference_tables().values():
        heads = (head for head in table.columns if head not in REFRIGERANTS and not head.isdigit())
        source = "" if table.source.startswith("CoolProp") else table.source  # a name and version
        for text in filter(None, (table.tab, table.title, table.note, source, *heads)):
            yield text, f"table {table.name}"


# Which arguments of a call are texts. Babel's own extractor does not look inside f-strings.
SAYING = {
    "spoken": (0,), "to_say": (0,), "spoken_count": (0, 1), "counted": (1, 2), "listed": (1,),
    "refuse_outside": (0, 4), "refuse_not_above": (0, 4), "refuse_below": (0, 4),
    "refuse_share": (0,), "_state": (1,), "Signal": (1,), "Remark": (0,), "_remark": (0,),
    "Step": (1,),
}  # fmt: skip


def said_in_code(source: str) -> Iterator[str]:
    """Yield the texts of a module, in the order of its lines."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    for call in sorted(calls, key=lambda call: (call.lineno, call.col_offset)):
        for place in SAYING.get(getattr(call.func, "id", ""), ()):
            text = call.args[place] if place < len(call.args) else None
            if isinstance(text, ast.Constant) and isinstance(text.value, str) and text.value:
                yield text.value


_UNWANTED = ('"Project-Id', '"Report-', '"POT-', '"PO-', '"Last-', '"Language-Team', '"Generated-By')
TEXTS: dict[str, Callable[[], Iterator[tuple[str, str]]]] = {
    "form": form_texts, "program": program_texts,
}


def path_of(code: str, domain: str) -> Path:
    return LANGUAGES_FOLDER / code / "LC_MESSAGES" / f"{domain}.po"


def read(path: Path, code: str) -> Catalog:
    if not path.exists():
        return Catalog(locale=code, fuzzy=False)
    with path.open("rb") as file:
        return read_po(file, locale=code)


def template(domain: str) -> Catalog:
    """Return a catalogue of what there is to be said, each with the place where it stands."""
    made = Catalog(fuzzy=False)
    for text, place in TEXTS[domain]():
        made.add(text, auto_comments=[place])
    return made


def updated(code: str, domain: str) -> Catalog:
    """Return the language's catalogue with what is new, without what is gone."""
    catalog = read(path_of(code, domain), code)
    catalog.update(template(domain), no_fuzzy_matching=True)
    catalog.obsolete.clear()
    return catalog


def written(catalog: Catalog) -> bytes:
    """Return the PO file, without names and dates: the history of the files knows those."""
    catalog.header_comment = f"# Texts in '{catalog.locale}'; see .ci/languages.py."
    file = io.BytesIO()
    write_po(file, catalog, width=100, omit_header=False, sort_output=False)
    lines = file.getvalue().decode().splitlines(keepends=True)
    return "".join(line for line in lines if not line.startswith(_UNWANTED)).encode()


def compiled(catalog: Catalog) -> bytes:
    # A catalogue read without dates takes the hour it is read at; the file must not change by it.
    catalog.creation_date = catalog.revision_date = datetime(2000, 1, 1, tzinfo=timezone.utc)
    file = io.BytesIO()
    write_mo(file, catalog)
    return file.getvalue()


def missing(code: str) -> Iterator[str]:
    for domain in DOMAINS:
        catalog = updated(code, domain)
        yield from (message.id for message in catalog if message.id and not message.string)


def main(arguments: list[str]) -> int:
    """Do what is asked; 0 when done, 1 when texts are missing, 2 when not understood."""
    codes = arguments[1:] or [code for code in languages() if code != ENGLISH]
    places = [(code, domain) for code in codes for domain in DOMAINS]
    match arguments[:1]:
        case ["update"]:
            for code, domain in places:
                data = written(updated(code, domain))
                path_of(code, domain).parent.mkdir(parents=True, exist_ok=True)
                path_of(code, domain).write_bytes(data)
                print(f"{path_of(code, domain).relative_to(ROOT)}: brought up to date")
        case ["compile"]:
            for code, domain in places:
                target = path_of(code, domain).with_suffix(".mo")
                target.write_bytes(compiled(read(path_of(code, domain), code)))
                print(f"{target.relative_to(ROOT)}: written")
        case ["missing"]:
            left = [(code, text) for code in codes for text in missing(code)]
            for code, text in left:
                print(f"{code}: {text}")
            print(f"{len(left)} texts are not translated")
            return 1 if left else 0
        case _:
            print(__doc__)
            return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
