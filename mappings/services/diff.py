"""What differs between two documents: a list of places, and the same as text."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterator
from typing import Any

Change = dict[str, Any]
MOST = 500  # changes listed; two documents that differ in more have little in common


def changes(before: str, after: str) -> list[Change]:
    """Return the changes from one document's text to another's, in document order; [] for equal ones.

    Each is `{"pointer", "change": "added" | "removed" | "changed" | "moved", "from"?, "to"?}`. Items of lists that
    have an `id` are matched by it, others by their place; the pointer leads into the later document, that of
    something removed into the earlier one.
    """
    found = _differ(json.loads(before), json.loads(after), "")
    return [change for _, change in zip(range(MOST), found, strict=False)]


def text(before: str, after: str) -> str:
    """Return the unified difference of two documents, indented, without context beyond three lines; "" for equal ones."""
    old, new = (json.dumps(json.loads(body), ensure_ascii=False, indent=1).splitlines() for body in (before, after))
    return "\n".join(difflib.unified_diff(old, new, "before", "after", lineterm="", n=3))


def _differ(before: Any, after: Any, at: str) -> Iterator[Change]:
    if isinstance(before, dict) and isinstance(after, dict):
        yield from _objects(before, after, at)
    elif isinstance(before, list) and isinstance(after, list):
        yield from _by_id(before, after, at) if _have_ids(before) and _have_ids(after) else _by_place(before, after, at)
    elif before != after or type(before) is not type(after):
        yield {"pointer": at, "change": "changed", "from": before, "to": after}


def _objects(before: dict[str, Any], after: dict[str, Any], at: str) -> Iterator[Change]:
    for key in [*after, *(key for key in before if key not in after)]:
        below = f"{at}/{key.replace('~', '~0').replace('/', '~1')}"
        if key not in before:
            yield {"pointer": below, "change": "added", "to": after[key]}
        elif key not in after:
            yield {"pointer": below, "change": "removed", "from": before[key]}
        else:
            yield from _differ(before[key], after[key], below)


def _have_ids(items: list[Any]) -> bool:
    ids = [item.get("id") if isinstance(item, dict) else None for item in items]
    return all(isinstance(found, str) for found in ids) and len(set(ids)) == len(ids)


def _by_id(before: list[Any], after: list[Any], at: str) -> Iterator[Change]:
    old = {item["id"]: (i, item) for i, item in enumerate(before)}
    new = {item["id"] for item in after}
    kept_before = [item["id"] for item in before if item["id"] in new]
    kept_after = [item["id"] for item in after if item["id"] in old]
    moved = {name for name, other in zip(kept_after, kept_before, strict=True) if name != other}
    for i, item in enumerate(after):
        if item["id"] not in old:
            yield {"pointer": f"{at}/{i}", "change": "added", "to": item}
            continue
        if item["id"] in moved:
            yield {"pointer": f"{at}/{i}", "change": "moved", "from": old[item["id"]][0], "to": i}
        yield from _differ(old[item["id"]][1], item, f"{at}/{i}")
    yield from ({"pointer": f"{at}/{i}", "change": "removed", "from": item} for name, (i, item) in old.items() if name not in new)


def _by_place(before: list[Any], after: list[Any], at: str) -> Iterator[Change]:
    for i, item in enumerate(after):
        if i >= len(before):
            yield {"pointer": f"{at}/{i}", "change": "added", "to": item}
        else:
            yield from _differ(before[i], item, f"{at}/{i}")
    yield from ({"pointer": f"{at}/{i}", "change": "removed", "from": before[i]} for i in range(len(after), len(before)))
