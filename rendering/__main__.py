"""`python -m rendering`: render, inspect, check, write, listen, tryout.

Exit codes: 0 done; 1 done, but errors were found; 2 nothing produced.
"""

from __future__ import annotations

import argparse
import json
import sys
from typing import Any, NoReturn

from rendering import commands
from rendering.problems import Refused, problem
from rendering.report import grouped


class _Parser(argparse.ArgumentParser):
    """Usage errors are refusals like any other: one line on stderr and exit 2, as JSON where that is asked for."""

    def error(self, message: str) -> NoReturn:
        raise Refused([problem("usage", why=message, command=self.prog)])


def main(arguments: list[str] | None = None) -> int:
    """Run one command; return its exit code."""
    given = sys.argv[1:] if arguments is None else arguments
    try:
        parsed = _parser().parse_args(given)
        answer = parsed.run(parsed)
    except Refused as refused:
        return _refuse(refused, "--json" in given)
    print(json.dumps(answer.document, ensure_ascii=False, indent=1) if parsed.json else answer.text)
    return int(answer.code)


def _refuse(refused: Refused, as_json: bool) -> int:
    rows = grouped(refused.problems)
    if as_json:
        print(json.dumps({"problems": rows}, ensure_ascii=False, indent=1))
    print(*(row["message"] for row in rows[:1]), file=sys.stderr)
    for row in rows[1:]:
        print(f"    {row['message']}", file=sys.stderr)
    return commands.NOTHING


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="python -m rendering", description=__doc__)
    inner = parser.add_subparsers(required=True, metavar="COMMAND", parser_class=_Parser)
    _add_render(inner)
    inspect = _add(inner, "inspect", commands.inspect_command, "show what was read of a score")
    inspect.add_argument("score", metavar="SCORE", nargs="?")
    _add_grid(inspect)
    inspect.add_argument("--marks", action="store_true", help="instead: every mark, by rank, with its signs and wordings")
    _add_limits(inspect)
    check = _add(inner, "check", commands.check_command, "check a map, a template or another document, all problems at once")
    check.add_argument("file", metavar="FILE")
    write = _add(inner, "write", commands.write_command, "write a score as MusicXML: a sketch, or one with pencil marks")
    write.add_argument("score", metavar="SCORE")
    write.add_argument("-o", "--output", required=True, metavar="FILE")
    write.add_argument("--pencil", metavar="FILE", help="marks that are laid over the score")
    _add_grid(write)
    _add_limits(write)
    listen = _add(inner, "listen", commands.listen_command, "what a sampler would hear in a MIDI file, note by note")
    listen.add_argument("midi", metavar="MIDI")
    listen.add_argument("--map", required=True, metavar="FILE")
    listen.add_argument("--channel", type=_channel, metavar="N", help="the track's own channel, 1 to 16, if there are others")
    listen.add_argument("--middle-c", default="C4", choices=["C3", "C4", "C5"], help="how keys are named")
    tryout = _add(inner, "tryout", commands.tryout_command, "write a MIDI file that plays every articulation of a map")
    tryout.add_argument("map", metavar="MAP")
    tryout.add_argument("-o", "--output", required=True, metavar="FILE")
    return parser


def _add(inner: Any, name: str, run: Any, text: str) -> argparse.ArgumentParser:
    made: argparse.ArgumentParser = inner.add_parser(name, help=text, description=text)
    made.add_argument("--json", action="store_true", help="answer with a JSON document, also for failures")
    made.set_defaults(run=run)
    return made


def _add_grid(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--grid", default="none", metavar="1/N", help="what a MIDI sketch's rhythm is set to: 1/16, 1/16+1/24")


def _add_limits(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--no-limits", action="store_true", help="read files of any size")


def _preroll(text: str) -> str | int:
    if text in {"auto", "none"}:
        return text
    if text.isdecimal() and int(text) <= 100:
        return int(text)
    raise argparse.ArgumentTypeError("auto, none or a number of measures up to 100")


def _ppq(text: str) -> int:
    if text.isdecimal() and 24 <= int(text) <= 32767:
        return int(text)
    raise argparse.ArgumentTypeError("a number from 24 to 32767")


def _channel(text: str) -> int:
    if text.isdecimal() and 1 <= int(text) <= 16:
        return int(text)
    raise argparse.ArgumentTypeError("a number from 1 to 16")


def _add_render(inner: Any) -> None:
    parser = _add(inner, "render", commands.render_command, "render a score to MIDI tracks, with a report and the playback proof")
    parser.add_argument("score", metavar="SCORE")
    parser.add_argument("-o", "--output", required=True, metavar="FOLDER", help="absent or empty")
    parser.add_argument(
        "--map", action="append", default=[], metavar="[PART=]FILE", help="a map for the parts of its sound, or for one part"
    )
    parser.add_argument("--template", metavar="FILE", help="its tracks name their maps by file, beside it")
    parser.add_argument("--assignment", metavar="FILE", help="which tracks play which part")
    parser.add_argument("--pencil", metavar="FILE", help="marks that are laid over the score")
    _add_grid(parser)
    parser.add_argument("--ppq", type=_ppq, help="ticks per quarter note (960)")
    parser.add_argument("--restate", choices=["change", "phrase", "note"], help="when switches are sent that change nothing")
    parser.add_argument("--lead", choices=["notes", "track", "none"], help="how slow attacks are evened out")
    parser.add_argument("--preroll", type=_preroll, metavar="auto|N|none", help="measures before the music")
    parser.add_argument("--tracks", choices=["used", "all"], help="leave out the template's empty tracks, or write them")
    parser.add_argument("--in-tie", dest="in_tie", choices=["wait", "restrike"], help="what a change of technique inside a tie does")
    parser.add_argument("--tempo", metavar="score|N|FILE", help="the score's, quarters a minute, or the tempo map of a MIDI file")
    parser.add_argument("--left-over", dest="left_over", choices=["report", "general-midi"], help="parts that no track plays")
    parser.add_argument("--explain", nargs=2, metavar=("PART", "MEASURE"), help="why each note there plays what it plays")
    parser.add_argument("--strict", action="store_true", help="exit 1 if any error was found")
    _add_limits(parser)


if __name__ == "__main__":
    sys.exit(main())
