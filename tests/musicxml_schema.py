"""The MusicXML 4.0 schema (W3C Music Notation Community Group), as shipped in general-purpose packages.

`musicxml` ships musicxml.xsd, `xmlschema` the two schemas that it imports; nothing is fetched.
"""

from __future__ import annotations

from functools import cache
from importlib.metadata import distribution
from pathlib import Path
from typing import Any

from lxml import etree


class _Shipped(etree.Resolver):
    """Answers the schema's imports from the installed packages."""

    def resolve(self, url: str, public_id: str, context: Any) -> Any:
        file = "XLINK/xlink.xsd" if url.endswith("xlink.xsd") else "XML/xml.xsd"
        return self.resolve_string(_shipped("xmlschema", f"xmlschema/schemas/{file}"), context)


def _shipped(package: str, file: str) -> bytes:
    """Return a file of an installed package without importing the package: its code is not our business."""
    return Path(str(distribution(package).locate_file(file))).read_bytes()


@cache
def schema() -> etree.XMLSchema:
    """Return the schema, compiled (about a second, once a process)."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Shipped())
    return etree.XMLSchema(etree.fromstring(_shipped("musicxml", "musicxml/generate_classes/musicxml_4_0.xsd"), parser))


def faults(data: bytes) -> list[str]:
    """Return what the schema finds wrong with a MusicXML file, with lines; empty when it is valid."""
    parser = etree.XMLParser(load_dtd=False, no_network=True, resolve_entities=False)
    found = schema()
    found.validate(etree.fromstring(data, parser))
    return [f"line {error.line}: {error.message}" for error in found.error_log]
