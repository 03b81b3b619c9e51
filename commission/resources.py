"""Where the form files, the icons and the demo units are, installed or in a source tree."""

from __future__ import annotations

from pathlib import Path

from commission.errors import CommissionError

# A wheel carries the folders here (pyproject.toml, force-include); a source tree, and so an
# editable install, keeps them at its top. The wheel's own copy is looked for first, so that
# an installed program never picks up a stray `forms` folder lying beside it.
INSTALLED_PARENT = Path(__file__).resolve().parent / "_data"
SOURCE_PARENT = Path(__file__).resolve().parent.parent


def forms_folder() -> Path:
    """Return the folder of the shipped form files (TOML).

    Raises:
        CommissionError: the folder is neither in the installed copy nor in the source tree.
    """
    return _shipped_folder("forms")


def icons_folder() -> Path:
    """Return the folder of the shipped icons (SVG).

    Raises:
        CommissionError: the folder is neither in the installed copy nor in the source tree.
    """
    return _shipped_folder("icons")


def demo_units_folder() -> Path:
    """Return the folder of the invented demo site and its units (TOML).

    Raises:
        CommissionError: the folder is neither in the installed copy nor in the source tree.
    """
    return _shipped_folder("demo_units")


def fonts_folder() -> Path:
    """Return the folder of the faces that every drawing and the package are set in."""
    return Path(__file__).resolve().parent / "package" / "fonts"


def _shipped_folder(name: str) -> Path:
    places = [INSTALLED_PARENT / name, SOURCE_PARENT / name]
    for place in places:
        if place.is_dir():
            return place
    looked = " and ".join(str(place) for place in places)
    raise CommissionError(
        f"{name}: the folder that ships with the program is missing; looked for {looked}. "
        "Install the program again (pip install --force-reinstall rooftop-commission), "
        "or run it from a whole source tree."
    )
