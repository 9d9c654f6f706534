"""From the bytes of a file to the bytes of a score: kind by content, containers unpacked within limits."""

from __future__ import annotations

import io
import zipfile
import zlib
from xml.sax.saxutils import unescape

from lxml import etree

from rendering.problems import Refused, problem
from rendering.readers.limits import Limits

CONTAINER = "META-INF/container.xml"
MOST_CONTAINER = PIECE = 1 << 20
STARTS = {
    b"\x89PNG": "a PNG picture",
    b"%PDF": "a PDF",
    b"\xff\xd8\xff": "a JPEG picture",
    b"GIF8": "a GIF picture",
    b"RIFF": "a RIFF file",
}


def kind_of(data: bytes) -> str:
    """Return "midi", "zip" or "xml" by the first bytes; Refused for an empty file and for anything else."""
    if not data.strip(b"\x00\t\r\n "):
        raise Refused([problem("empty-file")])
    if data.startswith(b"MThd"):
        return "midi"
    if data.startswith(b"PK"):
        return "zip"
    text = data[:64].removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith(b"<") or data.startswith((b"\xff\xfe", b"\xfe\xff", b"\x00<\x00", b"<\x00")):
        return "xml"
    what = next((name for start, name in STARTS.items() if data.startswith(start)), "neither XML, zip nor MIDI")
    raise Refused([problem("unknown-format", what=what)])


def unpack(data: bytes, limits: Limits) -> bytes:
    """Return the score inside a compressed MusicXML file; sizes are measured while unpacking, not believed."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            if len(entries) > limits.entries:
                raise Refused([problem("too-many-entries", count=len(entries), most=limits.entries)])
            return inflate(archive, root_file(archive, limits), limits)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, UnicodeDecodeError, ValueError) as error:
        raise Refused([problem("broken-zip")]) from error


def inflate(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, limits: Limits, most: int = 0) -> bytes:
    """Return an entry's content; Refused where it grows beyond size or ratio."""
    most = most or limits.unpacked_bytes
    by_ratio = max(entry.compress_size, 1) * limits.ratio
    pieces: list[bytes] = []
    size = 0
    with archive.open(entry) as stream:
        while piece := stream.read(PIECE):
            pieces.append(piece)
            size += len(piece)
            if size > most:
                raise Refused([problem("unpacked-too-large", most=most)])
            if size > by_ratio:
                raise Refused([problem("packed-too-tight", most=limits.ratio)])
    return b"".join(pieces)


def root_file(archive: zipfile.ZipFile, limits: Limits) -> zipfile.ZipInfo:
    """Return the entry that the container names, else the first that looks like a score."""
    names = {entry.filename: entry for entry in archive.infolist()}
    if CONTAINER in names:
        listed = listed_files(inflate(archive, names[CONTAINER], limits, MOST_CONTAINER))
        found = next((names[name] for name in listed if name in names), None)
        if found is not None:
            return found
    for name, entry in names.items():
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith(("META-INF/", "__MACOSX/")):
            return entry
    raise Refused([problem("no-score-in-zip")])


def listed_files(container: bytes) -> list[str]:
    """Return the root files that a container names, MusicXML ones; [] where it cannot be read."""
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    try:
        root = etree.fromstring(container, parser)
    except etree.XMLSyntaxError:
        return []
    files = [(e.get("full-path") or "", e.get("media-type") or "") for e in root.iter("{*}rootfile")]
    return [unescape(path) for path, kind in files if kind in {"", "application/vnd.recordare.musicxml+xml"} or kind.endswith("/xml")]
