"""XML to a tree, without network, entities or surprises; every document as `score-partwise`."""

from __future__ import annotations

from typing import Any

from lxml import etree
from lxml.etree import _Element

from rendering.problems import Problem, Refused, problem
from rendering.readers.limits import Limits


def parse(data: bytes, limits: Limits) -> _Element:
    """Return the root element; Refused for broken XML, for declared entities and for too deep nesting."""
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, dtd_validation=False, attribute_defaults=False,
        huge_tree=limits.deep, remove_comments=True, remove_pis=True, recover=False,
        remove_blank_text=True,
    )  # fmt: skip
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        raise Refused([refusal(error)]) from error
    declared: Any = root.getroottree().docinfo.internalDTD
    if declared is not None and any(True for _ in declared.iterentities()):
        raise Refused([problem("entities-declared")])
    return root


def refusal(error: etree.XMLSyntaxError) -> Problem:
    """Return the problem that a parser's error stands for."""
    text = (error.msg or "").split(", line ")[0]
    if "entity" in text.lower() and ("loop" in text.lower() or "amplification" in text.lower()):
        return problem("entities-declared")
    if "depth" in text.lower():
        return problem("xml-too-deep", most=256)
    return problem("broken-xml", line=error.lineno or 0, text=text[:120])


def partwise(root: _Element) -> _Element:
    """Return the document part by part; Refused where it is no score."""
    if root.tag.startswith("{"):
        strip_namespace(root)
    if root.tag == "score-timewise":
        return turned(root)
    if root.tag != "score-partwise":
        raise Refused([problem("not-a-score", tag=str(root.tag)[:60])])
    return root


def strip_namespace(root: _Element) -> None:
    """Take the namespace out of all names; MusicXML has none, some programs write one."""
    for element in root.iter("*"):
        element.tag = etree.QName(element).localname


def turned(timewise: _Element) -> _Element:
    """Return a score-timewise as partwise: the measures' parts become the parts' measures."""
    root = etree.Element("score-partwise")
    parts: dict[str, _Element] = {}
    for outer in list(timewise):
        if outer.tag != "measure":
            root.append(outer)
            continue
        for inner in list(outer.iterchildren("part")):
            name = inner.get("id") or ""
            if name not in parts:
                parts[name] = etree.Element("part", id=name)
            measure = etree.SubElement(parts[name], "measure", {str(k): str(v) for k, v in outer.attrib.items()})
            measure.extend(list(inner))
    root.extend(parts.values())
    return root
