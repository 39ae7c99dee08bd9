"""Writing GPX 1.1: elements in the order of its schema, positions with every digit."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any, cast

from lxml import etree

from standmap.formats.gpx import CREATOR
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Tree

NAMESPACE = "http://www.topografix.com/GPX/1/1"
"""Namespace of GPX 1.1 (TopoGrafix 2004)."""

_ILLEGAL = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def xml_text(text: str) -> str:
    """Return text with the characters that XML 1.0 cannot hold replaced by U+FFFD."""
    return _ILLEGAL.sub("\ufffd", text)


def document() -> etree._Element:
    """Return an empty GPX 1.1 root."""
    root = etree.Element(etree.QName(NAMESPACE, "gpx").text, nsmap=cast(Any, {None: NAMESPACE}))
    root.set("version", "1.1")
    root.set("creator", CREATOR)
    return root


def add(parent: etree._Element, name: str, text: str = "") -> etree._Element:
    """Append an element in the GPX namespace."""
    element = etree.SubElement(parent, etree.QName(NAMESPACE, name).text)
    if text:
        element.text = xml_text(text)
    return element


def add_point(parent: etree._Element, element: str, at: LonLat, **texts: str) -> etree._Element:
    """Append a waypoint or route point; `texts` are its children in the schema's order, empty ones left out."""
    point = add(parent, element)
    lon, lat = at
    # The schema's longitudes end before 180, which is the same meridian as -180.
    point.set("lat", _decimal(lat))
    point.set("lon", _decimal(-180.0 if lon == 180 else lon))
    for name, text in texts.items():
        if text:
            add(point, name, text)
    return point


def to_bytes(root: etree._Element) -> bytes:
    """Return the document as UTF-8."""
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def _decimal(value: float) -> str:
    """Return every digit of a number without an exponent, which xsd:decimal does not know."""
    return format(Decimal(repr(float(value))), "f")


def _facts(stand: Stand, tree: Tree) -> str:
    facts = [tree.species] if tree.species else []
    newest = stand.newest_measurement(tree.key)
    if newest is not None:
        word = "girth" if newest.girth_mm is not None else "diameter"
        day = f" on {newest.measured_on.isoformat()}" if newest.measured_on else ""
        facts.append(f"{word} {newest.given} {newest.given_unit}{day}")
    return "; ".join(facts)


def write_gpx(stand: Stand) -> bytes:
    """Return the trees and places of a stand as GPX 1.1 waypoints, in the order of the stand."""
    root = document()
    for tree in stand.present:
        add_point(root, "wpt", tree.at, name=tree.name, cmt=_facts(stand, tree), desc=tree.note, type="tree")
    for place in stand.places:
        kind = place.kind.value
        add_point(root, "wpt", place.at, name=place.name, desc=place.note, sym=kind.capitalize(), type=kind)
    return to_bytes(root)
