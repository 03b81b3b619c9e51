"""The language of the command line itself: which is asked for, and argparse's own words in it.

The language has to be known before the line is read, since `--help` ends the reading.
"""

from __future__ import annotations

import argparse
import gettext
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from commission.language import ENGLISH, LANGUAGES_FOLDER, languages, to_say

OPTION = "--language"
_DOMAIN = "program"
# What argparse says of a line such as ours, from Python 3.11 on.
ARGPARSE_WORDS = (
    to_say("usage: "),
    to_say("positional arguments"),
    to_say("options"),
    to_say("show this help message and exit"),
    to_say("%(prog)s: error: %(message)s\n"),
    to_say("argument %(argument_name)s: %(message)s"),
    to_say("the following arguments are required: %s"),
    to_say("unrecognized arguments: %s"),
    to_say("ambiguous option: %(option)s could match %(matches)s"),
    to_say("expected one argument"),
    to_say("expected at least one argument"),
    to_say("ignored explicit argument %r"),
    to_say("invalid %(type)s value: %(value)r"),
    to_say("invalid choice: %(value)r (choose from %(choices)s)"),
)


def asked_language(arguments: Sequence[str]) -> str:
    """Return the language that a command line asks for; English for none, or one unknown.

    One that is unknown, or is left out behind the option, is refused where the line is read.
    """
    parser = argparse.ArgumentParser(add_help=False, exit_on_error=False)
    parser.add_argument(OPTION, default=ENGLISH)
    try:
        code = str(parser.parse_known_args(arguments)[0].language)
    except argparse.ArgumentError:
        return ENGLISH
    return code if code in languages() else ENGLISH


@contextmanager
def argparse_speaking(code: str) -> Iterator[None]:
    """Let argparse say its own words in `code` inside the block.

    It asks Python's `gettext` for them, which goes by the process's own language.
    """
    before = gettext.textdomain()
    gettext.bindtextdomain(_DOMAIN, LANGUAGES_FOLDER)
    gettext.textdomain(_DOMAIN)
    language = os.environ.get("LANGUAGE")
    os.environ["LANGUAGE"] = code
    try:
        yield
    finally:
        gettext.textdomain(before)
        if language is None:
            del os.environ["LANGUAGE"]
        else:
            os.environ["LANGUAGE"] = language
