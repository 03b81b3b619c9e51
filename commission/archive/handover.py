"""Handover sheets for the owner's maintenance system: COBie 2.4 rows from the results.

Rows are plain texts, sheet by sheet, for CSV files here and for a workbook elsewhere. What is
not known stands as "n/a"; nothing is invented to please a rule, `handover_faults` tells what
is missing instead.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from commission import __version__
from commission.archive.files import write_csv
from commission.archive.handover_attributes import attribute_rows
from commission.archive.handover_rules import NOT_APPLICABLE, sheets
from commission.archive.results import identity_row
from commission.archive.vocabulary import equipment_categories, role_fields
from commission.definitions.model import Severity
from commission.errors import OutputError
from commission.language import ENGLISH, speaking, spoken, to_say
from commission.project import Deficiency, Person, Photo
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults

ROOF = "Roof"
PHOTOS = "photos"
_SYSTEM = f"commission {__version__}"
_MEASURES = {
    "IP": ("feet", "square feet", "cubic feet"),
    "SI": ("meters", "square meters", "cubic meters"),
}
_OPEN = ("open", "deferred")


@dataclass(frozen=True, slots=True)
class HandoverFile:
    """A file that goes with the handover (package, workbook, a certificate).

    `file` and `directory` are as the owner finds them; `tag` names a unit, or "" the whole
    site. `category` is of the standard's list of document types.
    """

    name: str
    file: str
    directory: str = "."
    category: str = "Test Reports"
    tag: str = ""


def handover_tables(
    site: SiteResults,
    *,
    make_emails: Mapping[str, str] | None = None,
    files: Sequence[HandoverFile] = (),
) -> dict[str, list[list[str]]]:
    """Return all sheets of COBie 2.4 in order; each is its headings and its rows of texts.

    They are English, as the standard's words are.

    Args:
        make_emails: make as read off the nameplate -> e-mail of that manufacturer, which the
            standard asks for and the project does not know; without it "n/a", a fault.
        files: documents that go along; photos are listed by themselves.
    """
    with speaking(ENGLISH):
        rows = _Handover(site, make_emails or {}, files).rows()
    tables = {}
    for name, sheet in sheets().items():
        made = [
            [one_line(row.get(heading, "")) for heading in sheet.headings]
            for row in rows.get(name, ())
        ]
        tables[name] = [sheet.headings, *made]
    return tables


def write_handover_csv(
    site: SiteResults,
    folder: Path,
    *,
    make_emails: Mapping[str, str] | None = None,
    files: Sequence[HandoverFile] = (),
) -> list[Path]:
    """Write one CSV a sheet into a folder, made if absent, and the photos beside them.

    Returns:
        The CSV files in the standard's order.
    Raises:
        OutputError: a file cannot be written.
    """
    _write_photos(site, Path(folder) / PHOTOS)
    tables = handover_tables(site, make_emails=make_emails, files=files)
    written = []
    for number, (name, rows) in enumerate(tables.items(), start=1):
        path = Path(folder) / f"{number:02}_{name}.csv"
        write_csv(path, to_say("handover sheet"), rows)
        written.append(path)
    return written


def _write_photos(site: SiteResults, folder: Path) -> None:
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        for photo in site.project.photos():
            folder.mkdir(exist_ok=True)
            (folder / _photo_name(photo)).write_bytes(photo.data)
    except OSError as fault:
        raise OutputError(
            spoken(
                "{folder}: the photos cannot be written there ({strerror}). Choose another "
                "folder, or make room on the disk.",
                folder=folder,
                strerror=fault.strerror or fault,
            )
        ) from fault


def _photo_name(photo: Photo) -> str:
    return f"{photo.sha256[:16]}.jpg"


def one_line(text: str) -> str:
    """Return a text as one line, "n/a" for none: an empty cell is an error in the standard."""
    return re.sub(r"\s+", " ", text).strip() or NOT_APPLICABLE


class _Handover:
    """The rows of every sheet, each a heading -> text; what is left out becomes "n/a"."""

    def __init__(
        self, site: SiteResults, make_emails: Mapping[str, str], files: Sequence[HandoverFile]
    ) -> None:
        self.site = site
        self.project = site.project
        self.files = files
        self.make_emails = {make.casefold(): email for make, email in make_emails.items()}
        self.people = {person.id: person for person in self.project.people()}
        first = next((person.email for person in self.people.values() if person.email), "")
        self.author = {"CreatedBy": first, "CreatedOn": self.project.made_at}
        self.facility = self._role(site.pages, "site") or self.project.title
        self.identities = {r.unit_id: identity_row(site, r) for r in site.units}

    def rows(self) -> dict[str, list[dict[str, str]]]:
        """Return the rows by sheet."""
        return {
            "Contact": [*self._people(), *self._makers()],
            "Facility": [self._facility()],
            "Floor": [self.author | {"Name": ROOF, "Category": "Roof", "Description": ROOF}],
            "Space": [
                self.author | {"Name": ROOF, "FloorName": ROOF, "Description": "Roof of the site"}
            ],
            "Type": self._types(),
            "Component": [self._component(results) for results in self.site.units],
            "System": [self._system(results) for results in self.site.units],
            "Spare": self._spares(),
            "Job": self._jobs(),
            "Document": [*self._documents(), *self._photos()],
            "Attribute": self._attributes(),
            "Issue": [self._issue(d) for d in self.project.deficiencies() if d.status in _OPEN],
        }

    def _role(self, results: UnitResults, role: str) -> str:
        name = role_fields().get(role, "")
        if name not in results.calculation.plan.entries:
            return ""
        return str(results.value(name).content or "")

    # --- who

    def _people(self) -> list[dict[str, str]]:
        return [
            self.author
            | {
                "Email": person.email,
                "Category": person.role,
                "Company": person.company,
                "GivenName": person.name.rpartition(" ")[0] or person.name,
                "FamilyName": person.name.rpartition(" ")[2],
                "ExternalSystem": _SYSTEM,
                "ExternalObject": "Person",
                "ExternalIdentifier": person.id,
            }
            for person in self.people.values()
        ]

    def _makers(self) -> list[dict[str, str]]:
        known = {person.email.casefold() for person in self.people.values()}
        rows = []
        for make in dict.fromkeys(row["make"] for row in self.identities.values()):
            email = self.make_emails.get(make.casefold(), "")
            if email and email.casefold() not in known:
                known.add(email.casefold())
                rows.append(
                    self.author | {"Email": email, "Category": "Manufacturer", "Company": make}
                )
        return rows

    def _email(self, person: Person | None) -> str:
        return person.email if person is not None and person.email else self.author["CreatedBy"]

    # --- what and where

    def _facility(self) -> dict[str, str]:
        linear, area, volume = _MEASURES[self.project.unit_system]
        return self.author | {
            "Name": self.facility,
            "ProjectName": self.project.title,
            "SiteName": self.facility,
            "LinearUnits": linear,
            "AreaUnits": area,
            "VolumeUnits": volume,
            "ExternalSystem": _SYSTEM,
            "ExternalProjectObject": "Project",
            "ExternalProjectIdentifier": self.project.uuid,
            "SiteDescription": self._role(self.site.pages, "address"),
        }

    def _type_name(self, results: UnitResults) -> str:
        row = self.identities[results.unit_id]
        named = f"{row['make']} {row['model']}".strip()
        return one_line(named) if named else self.site.form.title

    def _types(self) -> list[dict[str, str]]:
        first = {one_line(self._type_name(r)).casefold(): r for r in reversed(self.site.units)}
        ordered = sorted(first.values(), key=self.site.units.index)
        return [self._type(results) for results in ordered]

    def _type(self, results: UnitResults) -> dict[str, str]:
        row = self.identities[results.unit_id]
        maker = self.make_emails.get(row["make"].casefold(), "")
        return self.author | {
            "Name": self._type_name(results),
            "Category": self._category(results),
            "Description": self._type_name(results),
            "AssetType": "Fixed",
            "Manufacturer": maker,
            "ModelNumber": row["model"],
            "WarrantyDescription": self._role(results, "warranty_terms"),
            "ExtSystem": _SYSTEM,
        }

    def _category(self, results: UnitResults) -> str:
        for kind in equipment_categories():
            name = kind.get("field", "")
            if not name:
                return kind["category"]
            if name in results.calculation.plan.entries:
                answer = str(results.value(name).content or "")
                if answer.startswith(kind["begins"]):
                    return kind["category"]
        return ""

    def _component(self, results: UnitResults) -> dict[str, str]:
        row = self.identities[results.unit_id]
        where = [self._role(results, "location"), row["area_served"]]
        return self.author | {
            "Name": results.tag,
            "TypeName": self._type_name(results),
            "Space": ROOF,
            "Description": "; serves ".join(filter(None, where)) or results.tag,
            "ExtSystem": _SYSTEM,
            "ExtObject": "Unit",
            "ExtIdentifier": results.unit_id,
            "SerialNumber": row["serial"],
            "WarrantyStartDate": self._role(results, "warranty_starts"),
            "TagNumber": results.tag,
        }

    def _system(self, results: UnitResults) -> dict[str, str]:
        area = self.identities[results.unit_id]["area_served"]
        return self.author | {
            "Name": f"{results.tag} supply air",
            "ComponentNames": results.tag,
            "Description": f"Serves {area}" if area else "",
        }

    # --- what goes along and what is left to do

    def _spares(self) -> list[dict[str, str]]:
        return [
            self.author
            | {
                "Name": f"Spares handed over for {results.tag}",
                "Category": "SpareSet",
                "TypeName": self._type_name(results),
                "Description": self._role(results, "spares"),
            }
            for results in self.site.units
            if self._role(results, "spares")
        ]

    def _jobs(self) -> list[dict[str, str]]:
        return [
            self.author
            | {
                "Name": f"Deferred tests of {results.tag}",
                "Category": "Testing",
                "Status": "Not Yet Started",
                "TypeName": self._type_name(results),
                "Description": self._role(results, "deferred_tests"),
                "Start": self._role(results, "deferred_tests_due"),
                "TaskNumber": str(number),
            }
            for number, results in enumerate(self.site.units, start=1)
            if self._role(results, "deferred_tests")
        ]

    def _documents(self) -> list[dict[str, str]]:
        return [
            self.author
            | {
                "Name": file.name,
                "Category": file.category,
                "ApprovalBy": "Information Only",
                "Stage": "As Built",
                "SheetName": "Component" if file.tag else "Facility",
                "RowName": file.tag or self.facility,
                "Directory": file.directory,
                "File": file.file,
            }
            for file in self.files
        ]

    def _photos(self) -> list[dict[str, str]]:
        tags = {results.unit_id: results.tag for results in self.site.units}
        rows = []
        for number, photo in enumerate(self.project.photos(), start=1):
            tag = tags.get(photo.unit_id, "")
            if photo.unit_id and not tag:
                continue  # of a unit that was removed
            rows.append(
                self.author
                | {
                    "Name": f"Photo {number}",
                    "CreatedOn": photo.at,
                    "Category": "Test Reports",
                    "ApprovalBy": "Information Only",
                    "Stage": "As Built",
                    "SheetName": "Component" if tag else "Facility",
                    "RowName": tag or self.facility,
                    "Directory": PHOTOS,
                    "File": _photo_name(photo),
                    "ExtSystem": _SYSTEM,
                    "ExtObject": "Photo",
                    "ExtIdentifier": photo.id,
                    "Description": photo.caption,
                }
            )
        return rows

    def _attributes(self) -> list[dict[str, str]]:
        instruments = {item.id: item for item in self.project.instruments()}
        rows = []
        for results in self.site.everything():
            where = ("Component", results.tag) if results.unit_id else ("Facility", self.facility)
            for row in attribute_rows(results, instruments):
                author = self.people.get(row.pop("person_id"))
                row["CreatedBy"] = self._email(author)
                place = {"SheetName": where[0], "RowName": where[1], "ExtSystem": _SYSTEM}
                rows.append(self.author | row | place)
        return rows

    def _issue(self, deficiency: Deficiency) -> dict[str, str]:
        tags = {results.unit_id: results.tag for results in self.site.units}
        tag = tags.get(deficiency.unit_id, "")
        entry = self.site.form.by_name.get(deficiency.check)
        stops = getattr(entry, "severity", None) is Severity.STOP
        owner = next(
            (p for p in self.people.values() if deficiency.owner in (p.name, p.company)), None
        )
        parts = (deficiency.requirement, deficiency.description, f"due {deficiency.due}")
        return self.author | {
            "Name": f"Deficiency {deficiency.number}",
            "CreatedBy": self._email(self.people.get(deficiency.person_id)),
            "CreatedOn": deficiency.at,
            "Type": "Safety" if stops else "Function",
            "Risk": "Unknown",
            "Chance": "Has Occurred",
            "Impact": "Unknown",
            "SheetName1": "Component" if tag else "Facility",
            "RowName1": tag or self.facility,
            "Description": "; ".join(part for part in parts if part and part != "due "),
            "Owner": owner.email if owner is not None else "",
            "Mitigation": deficiency.correction,
            "ExtSystem": _SYSTEM,
            "ExtObject": "Deficiency",
            "ExtIdentifier": deficiency.id,
        }
