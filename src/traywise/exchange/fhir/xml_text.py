"""FHIR XML to the shape of FHIR JSON, with the standard library alone.

A document type or an entity is refused before parsing: FHIR needs neither, and both
can make a small file explode or fetch another.
"""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

from traywise.errors import Fault

_NAMESPACE = "{http://hl7.org/fhir}"
_FORBIDDEN = re.compile(r"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)
_DEEPEST = 60


def read_xml(content: str, name: str) -> tuple[dict[str, Any] | None, list[Fault]]:
    """The resource, or None and the fault that prevented it."""
    if _FORBIDDEN.search(content):
        text = "The file declares a document type or an entity, which FHIR does not use. Remove it."
        return None, [Fault("exchange.E105", name, text)]
    try:
        # Entities were refused above, so the parser has nothing to expand.
        root = ElementTree.fromstring(content)  # noqa: S314
    except ElementTree.ParseError as error:
        line, column = error.position
        at = f"{name}, line {line}, column {column + 1}"
        return None, [Fault("exchange.E106", at, f"Not XML: {error.msg}. Mend the syntax here.")]
    except ValueError as error:
        return None, [Fault("exchange.E106", name, f"Not XML: {error}.")]
    if not root.tag.startswith(_NAMESPACE):
        text = f'The outermost element "{root.tag}" is not of HL7 FHIR (http://hl7.org/fhir).'
        return None, [Fault("exchange.E107", name, text)]
    if _depth(root) > _DEEPEST:
        return None, [Fault("exchange.E106", name, "Nested too deep to be a record.")]
    return {"resourceType": _plain(root.tag), **_members(root)}, []


def _depth(element: ElementTree.Element) -> int:
    deepest, waiting = 0, [(element, 1)]
    while waiting:
        current, level = waiting.pop()
        deepest = max(deepest, level)
        waiting += [(child, level + 1) for child in current]
    return deepest


def _plain(tag: str) -> str:
    return tag.removeprefix(_NAMESPACE)


def _members(element: ElementTree.Element) -> dict[str, Any]:
    members: dict[str, Any] = {}
    url = element.get("url")
    if url is not None:
        members["url"] = url
    for child in element:
        key, value = _plain(child.tag), _value(child)
        known = members.get(key)
        if known is None:
            members[key] = value
        elif isinstance(known, list):
            known.append(value)
        else:
            members[key] = [known, value]
    return members


def _value(element: ElementTree.Element) -> Any:
    name = _plain(element.tag)
    if name in ("resource", "contained") and len(element) == 1:
        inner = element[0]
        return {"resourceType": _plain(inner.tag), **_members(inner)}
    stated = element.get("value")
    return stated if stated is not None else _members(element)
