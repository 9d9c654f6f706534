"""The house rules, read from the source tree: who may import whom, how long things may be, what stays out."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from statistics import median, quantiles
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent

# Rooms of the engine: each may import those on the lines above it, and others on its own line only where PEERS says so.
ENGINE_ORDER = [
    ["problems"],
    ["codes"],
    ["timeline", "documents"],
    ["marks"],
    ["score"],
    ["places"],
    ["midi"],
    ["readers"],
    ["annotate"],
    ["unfold"],
    ["perform"],
    ["maps"],
    ["score_document"],
    ["templates"],
    ["divide"],
    ["assign"],
    ["resolve"],
    ["ornaments"],
    ["outcomes", "proposal"],
    ["schedule"],
    ["listening"],
    ["proof"],
    ["rendered"],
    ["running"],
    ["report_document"],
    ["report", "trace", "files"],
    ["writers", "textforms"],
    ["pencil"],
    ["pipeline"],
    ["inspecting", "translate", "tryout", "plan", "coverage", "compare"],
    ["commands"],
    ["__main__"],
]
# Rooms whose independence is the point of them: they may import these rooms of the engine and no others.
ENGINE_ONLY = {
    "listening": {"maps", "midi.decode", "timeline", "problems"},
    "midi": {"problems", "timeline"},
    "timeline": set(),
    "problems": set(),
}
ENGINE_NEVER = {"listening": {"schedule"}, "proof": {"schedule"}}

# Rooms of the service, in the same way.
SERVICE_ORDER = [
    ["errors"],
    ["models"],
    ["grants"],
    ["access"],
    ["blobs", "checks", "admin"],
    ["apps"],
    ["exchange"],
    ["child"],
    ["jobs"],
    ["inline", "engine"],
    ["services"],
    ["api", "web"],
    ["management"],
    ["project"],
]
# The doors through which the service reaches the engine.
DOORS = ("exchange", "jobs", "child", "services.maps", "services.templates")


class Import(NamedTuple):
    """One import: the importing module, what it imports (dotted, with the imported name), and the line."""

    source: str
    target: str
    line: int


def python_files(*folders: str) -> list[Path]:
    """Return the sources of folders; migrations are written by a tool and left out."""
    return sorted(p for folder in folders for p in (ROOT / folder).rglob("*.py") if "migrations" not in p.parts)


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def nodes(path: Path) -> list[ast.AST]:
    """Return every node of a source file; read once a run."""
    return list(ast.walk(ast.parse(path.read_text("utf-8"))))


def imports_of(path: Path) -> Iterator[Import]:
    """Yield every import of a file, also those inside functions and under TYPE_CHECKING."""
    source = module_of(path)
    for node in nodes(path):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(source, alias.name, node.lineno)
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                yield Import(source, "." * node.level + f"{node.module or ''}.{alias.name}", node.lineno)


@cache
def imports(*folders: str) -> list[Import]:
    """Return the imports of all sources of the folders."""
    return [found for path in python_files(*folders) for found in imports_of(path)]


def inside(dotted: str, package: str) -> bool:
    return dotted == package or dotted.startswith(package + ".")


def room(dotted: str) -> str:
    """Return the room of a module: the name below its package; "" for the package itself."""
    parts = dotted.split(".")
    return parts[1] if len(parts) > 1 else ""


def rooms_on_disk(package: str) -> set[str]:
    found = {p.stem for p in (ROOT / package).glob("*.py")} | {p.parent.name for p in (ROOT / package).glob("*/__init__.py")}
    return found - {"__init__", "migrations"}


def wrong_way(package: str, order: list[list[str]]) -> list[str]:
    """Return the imports inside a package that go down its order, or sideways."""
    rank = {name: i for i, line in enumerate(order) for name in line}
    rooms = [(i, room(i.source), room(i.target)) for i in imports(package) if inside(i.target, package)]
    return [
        f"{i.source}:{i.line} imports {i.target}"
        for i, here, there in rooms
        if here and there in rank and here in rank and here != there and rank[there] >= rank[here]
    ]


@pytest.mark.parametrize(("package", "order"), [("rendering", ENGINE_ORDER), ("mappings", SERVICE_ORDER)])
def test_imports_inside_a_package_go_one_way(package: str, order: list[list[str]]) -> None:
    assert wrong_way(package, order) == []


@pytest.mark.parametrize(("package", "order"), [("rendering", ENGINE_ORDER), ("mappings", SERVICE_ORDER)])
def test_every_room_has_a_place_in_the_order(package: str, order: list[list[str]]) -> None:
    assert rooms_on_disk(package) - {name for line in order for name in line} == set()


def test_the_order_is_really_checked() -> None:
    assert wrong_way("rendering", [["codes"], ["problems"]])  # codes does import problems: upside down it must be seen


def test_the_engine_knows_neither_the_service_nor_django() -> None:
    foreign = ("mappings", "django", "rest_framework", "drf_spectacular", "psycopg", "fixtures")
    assert [i for i in imports("rendering") if any(inside(i.target, name) for name in foreign)] == []


def test_the_service_reaches_the_engine_through_its_doors_only() -> None:
    through = [i for i in imports("mappings") if inside(i.target, "rendering")]
    assert [i for i in through if not any(inside(i.source, f"mappings.{door}") for door in DOORS)] == []
    assert through, "no door is used at all: has a room been renamed?"


def test_api_and_web_do_not_know_each_other() -> None:
    pairs = [("mappings.api", "mappings.web"), ("mappings.web", "mappings.api")]
    assert [i for i in imports("mappings") for a, b in pairs if inside(i.source, a) and inside(i.target, b)] == []


@pytest.mark.parametrize("name", sorted(ENGINE_ONLY))
def test_rooms_that_stand_alone_import_what_they_may(name: str) -> None:
    allowed = tuple(f"rendering.{other}" for other in ENGINE_ONLY[name] | {name})
    own = [i for i in imports("rendering") if room(i.source) == name and inside(i.target, "rendering")]
    assert [i for i in own if not any(inside(i.target, other) for other in allowed)] == []


@pytest.mark.parametrize("name", sorted(ENGINE_NEVER))
def test_the_proof_does_not_ask_the_scheduler(name: str) -> None:
    banned = tuple(f"rendering.{other}" for other in ENGINE_NEVER[name])
    own = [i for i in imports("rendering") if room(i.source) == name]
    assert [i for i in own if any(inside(i.target, other) for other in banned)] == []


def test_no_relative_imports() -> None:
    assert [i for i in imports("rendering", "mappings", "fixtures", "tests") if i.target.startswith(".")] == []


CODE, TESTS = ("rendering", "mappings", "fixtures"), ("tests",)


def function_lengths(*folders: str) -> list[tuple[int, str]]:
    """Return (lines, where) of every function, from its `def` to its last line."""
    found = [(path, node) for path in python_files(*folders) for node in nodes(path)]
    return [
        ((node.end_lineno or 0) - node.lineno + 1, f"{path.relative_to(ROOT)}:{node.lineno} {node.name}")
        for path, node in found
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]


def test_no_file_over_400_lines() -> None:
    lengths = {str(p.relative_to(ROOT)): len(p.read_text("utf-8").splitlines()) for p in python_files(*CODE, *TESTS)}
    assert {name: lines for name, lines in lengths.items() if lines > 400} == {}


@pytest.mark.parametrize("folders", [CODE, TESTS], ids=["code", "tests"])
def test_no_function_over_60_lines(folders: tuple[str, ...]) -> None:
    assert [found for found in function_lengths(*folders) if found[0] > 60] == []


@pytest.mark.parametrize("folders", [CODE, TESTS], ids=["code", "tests"])
def test_functions_are_short_as_a_rule(folders: tuple[str, ...]) -> None:
    lengths = [lines for lines, _ in function_lengths(*folders)]
    percent_95 = quantiles(lengths, n=20)[-1]
    assert (median(lengths) <= 8, percent_95 <= 30) == (True, True), f"median {median(lengths)}, 95 % {percent_95}"


# What a source tree should not carry: paths of one machine, hosts of package registries, left-over notes and merges.
STAYS_OUT = {
    "a path of one machine": re.compile(r"(?<![\w.~-])/(?:home|work|root|Users)/\w|\b[A-Z]:\\Users"),
    "a registry host": re.compile(
        r"(?i)\b(?:files\.)?python" + r"hosted\.org|--(?:extra-)?index-" + r"url[ =]http|\bpypi\." + r"org/simple"
    ),
    "a note to oneself": re.compile(r"\b(?:TO" + r"DO|FIX" + r"ME|X" + r"XX)\b"),
    "a left-over merge": re.compile(r"^(?:<{7}|>{7}) ", re.MULTILINE),
}
TEXT = {".py", ".md", ".toml", ".txt", ".json", ".tsv", ".musicxml", ".html", ".css", ".js", ".xml", ".yml", ".yaml", ""}


def texts() -> list[Path]:
    """Return the project's own text files; what tools and runs leave behind is not ours."""
    folders = ("rendering", "mappings", "fixtures", "tests", ".ci")
    below = [p for folder in folders for p in (ROOT / folder).rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    return sorted(
        p for p in [*below, *ROOT.glob("[!.]*"), ROOT / ".gitignore"] if p.is_file() and p.suffix in TEXT and "vendor" not in p.parts
    )


@pytest.mark.parametrize("kind", STAYS_OUT)
def test_sources_are_free_of(kind: str) -> None:
    found = [(str(p.relative_to(ROOT)), m.group()) for p in texts() for m in STAYS_OUT[kind].finditer(p.read_text("utf-8", "replace"))]
    assert found == []


@pytest.mark.parametrize(("kind", "text"), [
    ("a path of one machine", "see " + "/ho" + "me/ada/x"),
    ("a registry host", "https://pypi." + "org/simple"),
    ("a note to oneself", "# TO" + "DO later"),
    ("a left-over merge", "<<<" + "<<<< HEAD"),
])  # fmt: skip
def test_what_stays_out_is_recognised(kind: str, text: str) -> None:
    assert STAYS_OUT[kind].search(text)
