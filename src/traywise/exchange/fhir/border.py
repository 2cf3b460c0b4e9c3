"""Careful looks into FHIR JSON from outside: whatever stands there, nothing here raises.

XML read by ``xml_text`` comes in the same shape, only that a list of one is a single
object and every value is text; these functions take both.
"""

from __future__ import annotations

from typing import Any

Node = dict[str, Any]

CVX = "http://hl7.org/fhir/sid/cvx"
ICD11 = "http://id.who.int/icd/release/11/mms"
LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
WHO_IMMZ = "http://smart.who.int/immunizations/CodeSystem/IMMZ.D"
MVX = "http://hl7.org/fhir/sid/mvx"

SYSTEMS = {SNOMED: "snomed", WHO_IMMZ: "who-immz"}


def node(value: Any, *path: str) -> Node:
    """The object at a path, empty when there is none."""
    for key in path:
        value = value.get(key) if isinstance(value, dict) else None
        if isinstance(value, list):
            value = value[0] if value else None
    return value if isinstance(value, dict) else {}


def nodes(value: Any, key: str) -> list[Node]:
    """The objects of a list; a single object counts as a list of one."""
    found = value.get(key) if isinstance(value, dict) else None
    items = found if isinstance(found, list) else [found]
    return [item for item in items if isinstance(item, dict)]


def text(value: Any, *path: str) -> str | None:
    """The text or number at a path as text, None when there is none or it is empty."""
    holder = node(value, *path[:-1]) if len(path) > 1 else value
    found = holder.get(path[-1]) if isinstance(holder, dict) else None
    if isinstance(found, list):
        found = found[0] if found else None
    if isinstance(found, bool) or not isinstance(found, str | int | float):
        return None
    return str(found).strip() or None


def number(value: Any, *path: str) -> float | None:
    """A decimal at a path, None when there is none."""
    found = text(value, *path)
    try:
        return None if found is None else float(found)
    except ValueError:
        return None


def flag(value: Any, key: str) -> bool | None:
    """A boolean, None when there is none."""
    found = value.get(key) if isinstance(value, dict) else None
    if isinstance(found, bool):
        return found
    return {"true": True, "false": False}.get(found) if isinstance(found, str) else None


def codings(concept: Any) -> list[tuple[str, str]]:
    """(system, code) of each coding of a concept."""
    found = [(text(item, "system") or "", text(item, "code")) for item in nodes(concept, "coding")]
    return [(system, code) for system, code in found if code]


def code_in(concept: Any, system: str) -> str | None:
    """The concept's code in one system."""
    return next((code for its_system, code in codings(concept) if its_system == system), None)


def describe(concept: Any) -> str:
    """A concept in words: its text, else a display, else its codes."""
    said = text(concept, "text")
    if said:
        return said
    displays = [text(item, "display") for item in nodes(concept, "coding")]
    first = next((display for display in displays if display), None)
    return first or ", ".join(code for _, code in codings(concept)) or "not stated"


def day_part(moment: str) -> str:
    """The day of a dateTime, as the sender's clock had it.

    >>> day_part("2020-11-19T12:46:57-08:00")
    '2020-11-19'
    """
    return moment.partition("T")[0]
