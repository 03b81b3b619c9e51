"""Spoilt workbooks, each from its seed: every one is read, or refused in a sentence.

`python tests/workbook/mutations.py --count 20000 BOOK.xlsx BOOK.ods` reads so many and prints
what came of them: bytes flipped, the zip file cut up and put together otherwise, XML in which
values, names and whole elements are others.
"""

from __future__ import annotations

import argparse
import io
import random
import re
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from commission.errors import IncomingFileError
from commission.workbook.incoming_worker import IncomingWorker
from commission.workbook.read_back_finding import returned_book

MOST_BYTES = 600_000_000
MOST_SECONDS = 10.0
_XML = (".xml", ".rels", ".vml", ".rdf")
_STRANGE = (
    b"", b"-1", b"0", b"1e999", b"nan", b"99999999999999999999", b"A1048577", b"XFE1", b"'",
    b"&#0;", b"&lt;x&gt;", b"=1+1", b"%n%s", b"\xff\xfe", b"../../x", b"1" * 400, b"\xe2\x80\xae",
)  # fmt: skip
_VALUE = re.compile(rb'"[^"<>]*"|(?<=>)[^<>]+(?=<)')
_ELEMENT = re.compile(rb"<([\w:]+)[^<>]*/>|<([\w:]+)[^<>]*>[^<>]*</\2>")


@dataclass
class Outcome:
    """What came of many files."""

    counts: Counter[str] = field(default_factory=Counter)
    said: Counter[str] = field(default_factory=Counter)
    longest: float = 0.0
    peak_bytes: int = 0
    started: int = 0
    faults: list[str] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        """Yield it as lines."""
        yield ", ".join(f"{count:,} {word}" for word, count in sorted(self.counts.items()))
        yield f"longest {self.longest:.2f} s, most memory {self.peak_bytes / 1e6:.0f} MB"
        yield f"processes started: {self.started}"
        for words, count in self.said.most_common(40):
            yield f"{count:7,}  {words}"
        yield from self.faults


def spoilt(content: bytes, seed: int) -> bytes:
    """Return a workbook's bytes spoilt in the way that belongs to a seed."""
    source = random.Random(seed)
    way = (_bytes_flipped, _zip_rebuilt, _xml_changed, _xml_changed)[seed % 4]
    return way(content, source)


def _bytes_flipped(content: bytes, source: random.Random) -> bytes:
    spoiled = bytearray(content)
    ends = source.random() < 0.5  # the directory at the end is where most is decided
    first = len(spoiled) * 3 // 4 if ends else 0
    for _ in range(source.randint(1, 12)):
        spoiled[source.randrange(first, len(spoiled))] = source.randrange(256)
    if source.random() < 0.2:
        del spoiled[source.randrange(len(spoiled)) :]
    return bytes(spoiled)


def _zip_rebuilt(content: bytes, source: random.Random) -> bytes:
    """Parts left out, doubled, renamed, exchanged, emptied or packed otherwise."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = [(info.filename, archive.read(info)) for info in archive.infolist()]
    for _ in range(source.randint(1, 3)):
        at, other = source.randrange(len(parts)), source.randrange(len(parts))
        name, held = parts[at]
        parts[at : at + 1] = source.choice(
            (
                [],
                [(name, b"")],
                [(name, parts[other][1])],
                [(parts[other][0].upper(), held)],
                [(name, held), (f"../{name}", held)],
                [(name, held), ("xl/vbaProject.bin", b"x")],
                [(name, held), ("xl/externalLinks/externalLink1.xml", b"<x/>")],
                [(name, held[: source.randrange(len(held) + 1)])],
                [(name, held + b" " * source.randrange(3_000_000))],
                [(name, held * 2)],
            )
        )
        if not parts:
            break
    return _zipped(parts, source)


def _zipped(parts: list[tuple[str, bytes]], source: random.Random) -> bytes:
    packed = io.BytesIO()
    ways = (zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED, zipfile.ZIP_BZIP2)
    way = source.choice(ways)
    with zipfile.ZipFile(packed, "w", way) as archive:
        for name, held in parts:
            if name not in archive.namelist():
                archive.writestr(name, held)
    return packed.getvalue()


def _xml_changed(content: bytes, source: random.Random) -> bytes:
    """Values, names and elements of one part changed, left out, doubled or nested."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    names = [name for name in parts if name.endswith(_XML) and parts[name]]
    telling = [name for name in names if re.search(r"sheet\d|workbook\.xml$|content\.xml", name)]
    name = source.choice(telling if source.random() < 0.8 else names)
    text = parts[name]
    for _ in range(source.randint(1, 4)):
        text = _one_change(text, source)
    parts[name] = text
    return _zipped_plainly(parts)


def _one_change(text: bytes, source: random.Random) -> bytes:
    if source.random() < 0.5:
        found = _near(_VALUE, text, source)
        if found is None:
            return text
        quoted = found[0].startswith(b'"')
        strange = source.choice(_STRANGE)
        other = found[0][: source.randrange(len(found[0]) + 1)].strip(b'"')
        value = strange if source.random() < 0.7 else other
        return text[: found.start()] + (b'"%s"' % value if quoted else value) + text[found.end() :]
    found = _near(_ELEMENT, text, source)
    if found is None:
        return text
    times = source.choice((0, 0, 2, 3, 3_000))
    held = found[0]
    if source.random() < 0.1:
        opened = b"<" + (found[1] or found[2]) + b">"
        closed = b"</" + (found[1] or found[2]) + b">"
        depth = source.choice((3, 500, 20_000))
        return text[: found.start()] + opened * depth + held + closed * depth + text[found.end() :]
    if source.random() < 0.05:
        return b'<!DOCTYPE x [<!ENTITY y "z">]>' + text
    return text[: found.start()] + held * times + text[found.end() :]


def _near(pattern: re.Pattern[bytes], text: bytes, source: random.Random) -> re.Match[bytes] | None:
    return pattern.search(text, source.randrange(len(text) or 1)) or pattern.search(text)


def _zipped_plainly(parts: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, held in parts.items():
            archive.writestr(name, held)
    return packed.getvalue()


def read_many(books: list[Path], seeds: range, folder: Path) -> Outcome:
    """Read spoilt copies of workbooks as the program does, one process as long as it lives."""
    outcome = Outcome()
    contents = [(book.suffix, book.read_bytes()) for book in books]
    with IncomingWorker() as worker:
        for seed in seeds:
            suffix, content = contents[seed // 4 % len(contents)]
            path = folder / f"spoilt{suffix}"
            path.write_bytes(spoilt(content, seed))
            _read_one(worker, path, seed, outcome)
        outcome.started = worker.started
    return outcome


def _read_one(worker: IncomingWorker, path: Path, seed: int, outcome: Outcome) -> None:
    began = time.monotonic()
    try:
        returned_book_of = worker.run(path, returned_book)
        outcome.counts["read"] += 1 if returned_book_of.meta else 0
    except IncomingFileError as fault:
        text = str(fault)
        outcome.counts["refused"] += 1
        outcome.said[_kind_of(text, path)] += 1
        if not text.startswith(f"{path}: ") or "broke off" in text or "more than the" in text:
            outcome.faults.append(f"seed {seed}: {text[:200]}")
    except Exception as fault:
        outcome.counts["neither"] += 1
        outcome.faults.append(f"seed {seed}: {type(fault).__name__}: {fault}")
    taken = time.monotonic() - began
    outcome.longest = max(outcome.longest, taken)
    outcome.peak_bytes = max(outcome.peak_bytes, worker.peak_bytes)
    if taken > MOST_SECONDS:
        outcome.faults.append(f"seed {seed}: {taken:.1f} s")


def _kind_of(text: str, path: Path) -> str:
    """Return a message without what belongs to one file."""
    words = text.removeprefix(f"{path}: ")
    return re.sub(r"'[^']*'|\([^)]*\)|\d[\d,.]*", "…", words)[:90]


def main() -> None:
    """Read as many as asked and print what came of them."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=20_000)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("books", type=Path, nargs="+")
    options = asked.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        seeds = range(options.first, options.first + options.count)
        outcome = read_many(options.books, seeds, Path(folder))
    print(f"{options.count:,} files in {time.monotonic() - began:.0f} s: ", end="")
    for line in outcome.lines():
        print(line)


if __name__ == "__main__":
    main()
