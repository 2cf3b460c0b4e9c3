"""FHIR R4 to children: Bundle, Parameters, single resources or one resource a line; JSON or XML.

Plain JSON is read with care at this border; no FHIR library is loaded. What is not
understood is reported; nothing is dropped in silence.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from traywise.errors import Fault
from traywise.exchange.fhir.border import Node, day_part, node, nodes, text
from traywise.exchange.fhir.findings import Findings
from traywise.exchange.fhir.immunization import read_immunization
from traywise.exchange.fhir.observation import (
    read_allergy,
    read_condition_resource,
    read_observation,
)
from traywise.record.child import Child, Condition, DoseGiven
from traywise.record.decode_text import decode_text
from traywise.record.json_text import split_json
from traywise.record.plausible import check_child
from traywise.record.read_json import format_path, refuse_doubles
from traywise.record.result import Entry, ReadResult
from traywise.record.values import BadValue, read_date
from traywise.rulebook.column_words import cell_words

SEXES = {"female": "F", "male": "M", "other": "X"}
# Resources that say nothing about a child's history; they are passed over without a word.
SILENT = frozenset(
    {"Organization", "Practitioner", "PractitionerRole", "Location", "Encounter", "Provenance"}
)


def read_fhir(
    data: bytes | str, name: str, *, day: date | None = None, today: date | None = None
) -> ReadResult:
    """All patients of a FHIR file, each with the doses, measures and conditions that name it.

    name        of the file, as faults shall show it
    day, today  as for read_children; the assessmentDate of a Parameters goes before ``day``
    """
    today = today or date.today()
    content, faults = decode_text(data, name)
    if content is None:
        return ReadResult(faults=tuple(faults))
    tops, faults = _parse(content, name)
    faults += _missing_pages(tops, name)
    lost = tuple(faults)  # resources that were not read may be doses of any child
    resources = [found for top in tops for found in _unpack(top, "")]
    records, more = _gather(resources, name)
    for record in records:
        record.faults += lost
    faults += more
    assess_on = _assessment_day(tops, name, faults)
    entries = [record.finish(assess_on, day or today, today) for record in records]
    return ReadResult(entries=refuse_doubles(entries), faults=tuple(faults))


def _parse(content: str, name: str) -> tuple[list[Node], list[Fault]]:
    if content.lstrip().startswith("<"):
        # Imported late: most records are no XML.
        from traywise.exchange.fhir.xml_text import read_xml

        resource, faults = read_xml(content, name)
        return ([resource] if resource else []), faults
    tops: list[Node] = []
    faults = []
    for piece in split_json(content, name):
        if piece.fault is not None:
            faults.append(piece.fault)
        elif isinstance(piece.value, dict) and text(piece.value, "resourceType"):
            tops.append(piece.value)
        else:
            said = 'There is no "resourceType", so this is not a FHIR resource.'
            faults.append(Fault("exchange.E107", f"{name}, line {piece.line}", said))
    return tops, faults


def _unpack(resource: Node, url: str) -> Iterator[tuple[Node, str]]:
    """The resource, or those it holds, each with its full URL where one is given."""
    kind = resource.get("resourceType")
    if kind == "Bundle":
        for entry in nodes(resource, "entry"):
            yield from _unpack(node(entry, "resource"), text(entry, "fullUrl") or "")
    elif kind == "Parameters":
        for parameter in nodes(resource, "parameter"):
            inner = node(parameter, "resource")
            if inner:
                yield from _unpack(inner, "")
    elif resource:
        yield resource, url


def _missing_pages(tops: Sequence[Node], name: str) -> list[Fault]:
    """A Bundle that is one page of several says where the next one is."""
    said = "This Bundle is one page of several, so no history is whole. Hand over all pages as one."
    return [
        Fault("exchange.E109", f"{name}, Bundle/{text(top, 'id') or 1}, link", said)
        for top in tops
        if any(text(link, "relation") == "next" for link in nodes(top, "link"))
    ]


def _assessment_day(tops: Sequence[Node], name: str, faults: list[Fault]) -> date | None:
    for top in tops:
        for parameter in nodes(top, "parameter"):
            stated = text(parameter, "valueDate") or text(parameter, "valueDateTime")
            if text(parameter, "name") == "assessmentDate" and stated:
                try:
                    return read_date(day_part(stated))
                except BadValue as bad:
                    faults.append(Fault(bad.code, f"{name}, assessmentDate", bad.text))
    return None


class _Record:
    """One Patient and what refers to it."""

    def __init__(self, patient: Node, url: str, name: str, number: int):
        self.patient, self.url = patient, url
        own = text(patient, "id")
        identifiers = [
            value for item in nodes(patient, "identifier") if (value := text(item, "value"))
        ]
        self.id = own or (identifiers[0] if identifiers else None)
        self.findings = Findings(f"{name}, Patient/{self.id or number}")
        self.faults: list[Fault] = []
        self.doses: list[DoseGiven] = []
        self.places: list[str] = []
        self.conditions: list[Condition] = []
        self.measures: dict[str, tuple[Any, date | None]] = {}

    def take(self, resource: Node, findings: Findings) -> None:
        """One resource about this patient."""
        kind = resource.get("resourceType")
        if kind == "Immunization":
            dose = read_immunization(resource, findings)
            if dose is not None:
                self.doses.append(dose)
                self.places.append(findings.at)
        elif kind == "Observation":
            self._take_observation(read_observation(resource, findings))
        elif kind in ("Condition", "AllergyIntolerance"):
            read = read_allergy if kind == "AllergyIntolerance" else read_condition_resource
            condition = read(resource, findings)
            if condition is not None:
                self.conditions.append(condition)
        elif kind not in SILENT:
            findings.add("exchange.W101", "", f"{kind} is not used.")
        self.faults += findings.faults

    def _take_observation(self, found: tuple[str, Any, date | None] | Condition | None) -> None:
        if isinstance(found, Condition):
            self.conditions.append(found)
        elif found is not None:
            field, value, day = found
            known = self.measures.get(field)
            # The latest measure counts; one without a day only where there is no other.
            if known is None or (day is not None and (known[1] is None or day >= known[1])):
                self.measures[field] = (value, day)

    def finish(self, assess_on: date | None, day: date, today: date) -> Entry:
        """The entry of this patient."""
        values = self._read_patient()
        faults = [*self.findings.faults, *self.faults]
        child = None
        if self.id is not None and "born" in values:
            child = Child(
                id=self.id,
                doses=tuple(self.doses),
                conditions=tuple(self.conditions),
                assess_on=assess_on,
                **values,
            )
            for path, code, said in check_child(child, day=assess_on or day, today=today):
                faults.append(Fault(code, self._place(path), said))
        if any(fault.is_error for fault in faults):
            child = None
        return Entry(id=self.id, at=self.findings.at, child=child, faults=tuple(faults))

    def _place(self, path: tuple[str | int, ...]) -> str:
        if path[0] == "doses" and isinstance(path[1], int):
            return self.places[path[1]]
        return f"{self.findings.at}, {format_path(path)}"

    def _read_patient(self) -> dict[str, Any]:
        values: dict[str, Any] = {field: value for field, (value, _) in self.measures.items()}
        if "weight_kg" in self.measures:
            values["weighed_on"] = self.measures["weight_kg"][1]
        if self.id is None:
            self.findings.add(
                "record.E010", "id", "The patient has no id and no identifier. Add one."
            )
        born = text(self.patient, "birthDate")
        if born is None:
            self.findings.add("record.E012", "birthDate", "The date of birth is missing. Add it.")
        else:
            try:
                values["born"] = read_date(born)
            except BadValue as bad:
                self.findings.add(bad.code, "birthDate", bad.text)
        gender = text(self.patient, "gender")
        values["sex"] = SEXES.get(gender or "") or _sex_of_extension(self.patient)
        if gender not in (None, "unknown", *SEXES):
            said = f'"{gender}" is not a gender of FHIR; sex is taken as not known.'
            self.findings.add("exchange.W103", "gender", said)
        values["name"] = _full_name(self.patient)
        return values


def _sex_of_extension(patient: Node) -> str | None:
    """Sex as US Core 9 writes it: an extension with a SNOMED CT code."""
    for extension in nodes(patient, "extension"):
        if (text(extension, "url") or "").endswith("/us-core-individual-sex"):
            return cell_words("sex").get(text(extension, "valueCoding", "code") or "")
    return None


def _full_name(patient: Node) -> str | None:
    for item in nodes(patient, "name"):
        whole = text(item, "text")
        if whole:
            return whole
        given = item.get("given")
        parts = [part for part in (given if isinstance(given, list) else [given]) if part]
        family = text(item, "family")
        words = [*(part for part in parts if isinstance(part, str)), *([family] if family else [])]
        if words:
            return " ".join(words)
    return None


def _relative(reference: str) -> str:
    """The last two parts of a reference, without a version: "Patient/7"."""
    return "/".join(reference.partition("/_history")[0].rsplit("/", 2)[-2:])


def _gather(resources: Sequence[tuple[Node, str]], name: str) -> tuple[list[_Record], list[Fault]]:
    """Patients with everything that refers to them; faults for what refers to nobody here."""
    records = [
        _Record(resource, url, name, number)
        for number, (resource, url) in enumerate(resources, start=1)
        if resource.get("resourceType") == "Patient"
    ]
    meant = {record.url: record for record in records if record.url}
    meant |= {f"Patient/{record.id}": record for record in records if record.id}
    faults: list[Fault] = []
    if resources and not records:
        said = "There is no Patient, so nothing can be said of a child. Hand over the Bundle."
        faults.append(Fault("exchange.E101", name, said))
        return records, faults
    for number, (resource, _) in enumerate(resources, start=1):
        kind = text(resource, "resourceType") or "resource"
        if kind == "Patient":
            continue
        findings = Findings(f"{name}, {kind}/{text(resource, 'id') or number}")
        reference = text(resource, "patient", "reference") or text(resource, "subject", "reference")
        record = records[0] if reference is None and len(records) == 1 else None
        if reference is not None:
            record = meant.get(reference) or meant.get(_relative(reference))
        if record is not None:
            record.take(resource, findings)
        elif kind not in SILENT:
            found = f'"{reference}"' if reference else "no patient"
            findings.add(
                "exchange.E102", "patient", f"It refers to {found}, who is not in the file."
            )
            faults += findings.faults
    return records, faults
