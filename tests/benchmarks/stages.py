"""Prints what each stage of a render costs, as a multiple of lxml's bare parse of the same file.

    python -m tests.benchmarks.stages [--parts 40] [--measures 400] [--rounds 5] [--others] [FILE.musicxml …]

Figures are processor time, the median over rounds; in a round the bare parse and the render run one after the
other, each in a fresh process pinned to one core, and are compared with each other only. A warm heap
would halve the bare parse alone (no page faults) and make the same engine look twice as slow.
Strings, horn and timpani play on the demo's library, all else on General MIDI. `--others` puts
verovio and partitura beside, from MusicXML to MIDI, on a part of the score that they finish in time.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

from tests.benchmarks.generate import orchestra

STAGES = ("read", "annotate", "unfold", "perform", "resolve", "schedule", "encode", "listen", "compare", "report", "trace")
CORE = max(os.sched_getaffinity(0))


def peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def bare(data: bytes) -> dict[str, Any]:
    """Parse with lxml's defaults, and nothing else."""
    return parse(data, {})


def lean(data: bytes) -> dict[str, Any]:
    """Parse with the settings of our reader: it drops blank text, which is cheaper than keeping it."""
    return parse(
        data, {"resolve_entities": False, "no_network": True, "remove_blank_text": True, "remove_comments": True, "remove_pis": True}
    )


def parse(data: bytes, settings: dict[str, bool]) -> dict[str, Any]:
    from lxml import etree

    parser = etree.XMLParser(**settings)
    before = peak_mib()
    start = time.process_time()
    root = etree.fromstring(data, parser)
    seconds = time.process_time() - start
    grown = peak_mib() - before
    notes = sum(1 for note in root.iter("note") if note.find("rest") is None)
    return {"seconds": seconds, "notes": notes, "grown": grown}


def ours(data: bytes) -> dict[str, Any]:
    """Render, with the time at the end of each stage."""
    from fixtures import demo
    from rendering.documents import read
    from rendering.maps.document import ArticulationMap
    from rendering.pipeline import Limits, render

    names = {"first-violins", "violas", "cellos", "basses", "horn", "timpani"}
    files = [i for i in demo.LIBRARIES[0].instruments if Path(i.file).stem in names]
    maps = [("", read(ArticulationMap, i.body)) for i in files]
    before = peak_mib()
    laps: dict[str, float] = {}
    start = last = time.process_time()

    def lap(stage: str) -> None:
        nonlocal last
        now = time.process_time()
        laps[stage] = laps.get(stage, 0.0) + now - last
        last = now

    made = render(data, maps=maps, limits=Limits.none(), lap=lap)
    seconds = time.process_time() - start
    proof = made.report["proof"]
    events = sum(len(track.scheduled.events) for track in made.run.tracks)
    return {"seconds": seconds, "laps": laps, "grown": peak_mib() - before, "proof": proof, "events": events}


def verovio(data: bytes) -> dict[str, Any]:
    import verovio as library

    library.enableLog(library.LOG_OFF)
    toolkit = library.toolkit()
    start = time.process_time()
    if not toolkit.loadData(data.decode()) or not toolkit.renderToMIDI():
        raise SystemExit("verovio made no MIDI of this score")
    return {"seconds": time.process_time() - start}


def partitura(data: bytes) -> dict[str, Any]:
    import warnings

    warnings.simplefilter("ignore")
    import partitura as library

    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "score.musicxml"
        source.write_bytes(data)
        start = time.process_time()
        library.save_score_midi(library.load_musicxml(str(source)), str(Path(folder) / "score.mid"))
        return {"seconds": time.process_time() - start}


KINDS: dict[str, Callable[[bytes], dict[str, Any]]] = {"bare": bare, "lean": lean, "ours": ours, "verovio": verovio, "partitura": partitura}


def in_fresh_process(kind: str, file: Path) -> dict[str, Any]:
    """Run one kind on a file in a process of its own; RuntimeError with its last words if it fails."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.stages", "--child", kind, str(file)], capture_output=True, text=True, check=False
    )
    if run.returncode:
        raise RuntimeError(f"{kind} on {file.name}: {run.stderr.strip().splitlines()[-1:]}")
    result: dict[str, Any] = json.loads(run.stdout.splitlines()[-1])
    return result


def table(file: Path, rounds: int) -> None:
    """Measure a file and print its table."""
    runs = [tuple(in_fresh_process(kind, file) for kind in ("bare", "lean", "ours")) for _ in range(rounds)]
    ours = runs[0][2]
    notes, proof = runs[0][0]["notes"], ours["proof"]
    print(f"\n{file.name}: {notes:,} notes, {file.stat().st_size / 1e6:.1f} MB, {ours['events']:,} events, {rounds} rounds")
    row("bare parse", 1.0, median(b["seconds"] for b, _, _ in runs), notes)
    row("reader's parse", median(p["seconds"] / b["seconds"] for b, p, _ in runs), median(p["seconds"] for _, p, _ in runs), notes)
    for stage in STAGES:
        laps = [(o["laps"].get(stage, 0.0), b["seconds"]) for b, _, o in runs]
        row(stage, median(lap / bare_seconds for lap, bare_seconds in laps), median(lap for lap, _ in laps))
    row("whole way", median(o["seconds"] / b["seconds"] for b, _, o in runs), median(o["seconds"] for _, _, o in runs), notes)
    print(f"  to the reader's parse {median(o['seconds'] / p['seconds'] for _, p, o in runs):6.2f}")
    print(f"  peak memory    {median(o['grown'] / b['grown'] for b, _, o in runs):6.2f}   times the bare parse's")
    print(
        f"  proof          {proof['agree']:,} of {proof['notes']:,} agree, {proof['yielded']:,} yielded, {len(proof['disagree'])} disagree"
    )


def row(name: str, ratio: float, seconds: float, notes: int = 0) -> None:
    rate = f"{notes / seconds:10,.0f} notes/s" if notes else ""
    print(f"  {name:<14} {ratio:6.2f}   {seconds * 1000:8.0f} ms   {rate}".rstrip())


def beside_others(parts: int, measures: int, seed: int) -> None:
    """Print notes per second of other programs and of ours, from MusicXML to MIDI, on one smaller score."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / f"orchestra-{parts}x{measures}.musicxml"
        file.write_bytes(orchestra(parts, measures, seed))
        notes = in_fresh_process("bare", file)["notes"]
        print(f"\nFrom MusicXML to MIDI, {notes:,} notes ({file.name}), notes/s")
        for kind in ("ours", "verovio", "partitura"):
            print(f"  {kind:<10} {notes / in_fresh_process(kind, file)['seconds']:10,.0f}")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--parts", type=int, default=40)
    arguments.add_argument("--measures", type=int, default=400)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--rounds", type=int, default=5)
    arguments.add_argument("--others", action="store_true")
    arguments.add_argument("--child", choices=KINDS, help=argparse.SUPPRESS)
    arguments.add_argument("files", nargs="*", type=Path)
    given = arguments.parse_args()
    if given.child:
        os.sched_setaffinity(0, {CORE})
        print(json.dumps(KINDS[given.child](given.files[0].read_bytes())))
        return
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / f"orchestra-{given.parts}x{given.measures}.musicxml"
        if not given.files:
            made.write_bytes(orchestra(given.parts, given.measures, given.seed))
        for file in given.files or [made]:
            table(file, given.rounds)
    if given.others:
        beside_others(given.parts, max(1, given.measures // 10), given.seed)


if __name__ == "__main__":
    main()
