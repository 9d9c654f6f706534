"""The policy of the API: one row for each route and method, with the least role, and a request that succeeds.

Roles: "reader", "editor", "owner" of the row's team; "anyone" who is signed in; "public".
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any, NamedTuple

from django.test import Client

from tests.mappings.world import JSON, TINY_SCORE, House, World, map_document, mark_queued, soon, template_document

Json = dict[str, Any]
Prepare = Callable[[World], None]


class Row(NamedTuple):
    """One line of the policy.

    need, status  least role, and the status that who has it is answered with
    body          function of the house to what is sent; bytes are a file
    match         whether If-Match is sent; session: whether only a person may do it, no token
    audits        audit rows that success leaves
    prepare       what must be so before
    """

    method: str
    route: str
    need: str
    status: int
    body: Callable[[House], Any] | None = None
    match: bool = False
    session: bool = False
    audits: int = 0
    prepare: Callable[[House], None] | None = None


def queued(house: House) -> None:
    """Let the house's render wait."""
    mark_queued(house.render)


def unused(house: House) -> None:
    """Let no template use the house's map."""
    house.template.tracks.all().delete()


def bare(house: House) -> None:
    """Let the instrument have no map."""
    unused(house)
    house.map.__class__.objects.filter(pk=house.map.pk).update(archived_at=soon())


def empty(house: House) -> None:
    """Let the library have no instrument."""
    bare(house)
    house.instrument.__class__.objects.filter(pk=house.instrument.pk).update(archived_at=soon())


def get(route: str, need: str = "reader", **more: Any) -> Row:
    """Return the row of a GET."""
    return Row("GET", route, need, 200, **more)


def write(method: str, route: str, status: int, need: str = "editor", **more: Any) -> Row:
    """Return the row of a write that leaves one audit row."""
    return Row(method, route, need, status, **{"audits": 1, **more})


def token_body(_: House) -> Json:
    """Return a token that may be made."""
    return {"name": "for a script", "scopes": ["read"], "expires_at": soon().isoformat()}


def render_body(house: House) -> Json:
    """Return a render that may be asked for."""
    return {"score": str(house.score.pk), "template": str(house.template.pk)}


T, M, P, S, R = "teams/<uuid:team>", "maps/<uuid:map>", "templates/<uuid:template>", "scores/<uuid:score>", "renders/<uuid:render>"
L, I = "libraries/<uuid:library>", "instruments/<uuid:instrument>"
NUMBER, FILE = "<number:number>", "<filename:name>"

POLICY: list[Row] = [
    get("me", "anyone"),
    get("teams", "anyone"),
    write("POST", "teams", 201, "anyone", session=True, body=lambda _: {"name": "New"}),
    get(T),
    write("PUT", T, 200, "owner", session=True, match=True, body=lambda _: {"name": "Renamed"}),
    write("DELETE", T, 202, "owner", session=True, match=True),
    get(f"{T}/members"),
    get(f"{T}/members/<uuid:user>"),
    write("PUT", f"{T}/members/<uuid:user>", 200, "owner", session=True, body=lambda _: {"role": "owner"}),
    write("DELETE", f"{T}/members/<uuid:user>", 204, "owner", session=True),
    get(f"{T}/tokens", session=True),
    write("POST", f"{T}/tokens", 201, "reader", session=True, body=token_body),
    get("tokens/<uuid:token>", "token", session=True),
    write("DELETE", "tokens/<uuid:token>", 204, "token", session=True),
    get(f"{T}/audit"),
    get(f"{T}/libraries"),
    write("POST", f"{T}/libraries", 201, body=lambda _: {"name": "Fell Library"}),
    get(L),
    write("PUT", L, 200, match=True, body=lambda _: {"name": "Fell Library"}),
    write("DELETE", L, 204, match=True, prepare=empty),
    get(f"{L}/instruments"),
    write("POST", f"{L}/instruments", 201, body=lambda _: {"name": "Violas", "sound": "strings.viola"}),
    get(I),
    write("PUT", I, 200, match=True, body=lambda h: {"name": "Fiddles", "library": str(h.library.pk), "sound": "strings.violin"}),
    write("DELETE", I, 204, match=True, prepare=bare),
    get(f"{T}/maps"),
    write("POST", f"{T}/maps", 201, body=lambda h: {"instrument": str(h.instrument.pk), "document": map_document("Fell Violins")}),
    get(M),
    write("PUT", M, 200, match=True, body=lambda h: {"name": "Fell Violins", "instrument": str(h.instrument.pk)}),
    write("DELETE", M, 204, match=True, prepare=unused),
    get(f"{M}/document"),
    write("PUT", f"{M}/document", 200, match=True, body=lambda _: map_document(key_offset=12)),
    get(f"{M}/revisions"),
    get(f"{M}/revisions/{NUMBER}"),
    get(f"{M}/diff"),
    write("POST", f"{M}/restore", 200, match=True, body=lambda _: {"revision": 1}, audits=0),
    get(f"{M}/tryout"),
    write("POST", f"{M}/fork", 201, body=lambda _: {"name": "A Copy"}),
    get(f"{T}/templates"),
    write("POST", f"{T}/templates", 201, body=lambda h: {"document": template_document(str(h.map.pk), "Fell Template")}),
    get(P),
    write("PUT", P, 200, match=True, body=lambda _: {"name": "Fell Template"}),
    write("DELETE", P, 204, match=True),
    get(f"{P}/document"),
    write("PUT", f"{P}/document", 200, match=True, body=lambda h: template_document(str(h.map.pk), "Fell Template")),
    get(f"{P}/revisions"),
    get(f"{P}/revisions/{NUMBER}"),
    get(f"{P}/diff"),
    get(f"{P}/drift"),
    write("POST", f"{P}/restore", 200, match=True, body=lambda _: {"revision": 1}, audits=0),
    write("POST", f"{P}/fork", 201, body=lambda _: {"name": "A Copy"}),
    get(f"{T}/scores"),
    write("POST", f"{T}/scores", 201, body=lambda _: TINY_SCORE),
    get(S),
    write("PUT", S, 200, match=True, body=lambda _: {"title": "Three Notes"}),
    write("DELETE", S, 204, match=True),
    get(f"{S}/versions"),
    write("POST", f"{S}/versions", 201, match=True, body=lambda _: TINY_SCORE),
    get(f"{S}/versions/{NUMBER}"),
    get(f"{S}/versions/{NUMBER}/file"),
    get(f"{S}/versions/{NUMBER}/assignment"),
    get(f"{T}/renders"),
    write("POST", f"{T}/renders", 201, body=render_body),
    get(R),
    get(f"{R}/inputs"),
    get(f"{R}/report"),
    get(f"{R}/files"),
    write("DELETE", f"{R}/files", 204),
    get(f"{R}/files/{FILE}"),
    get(f"{R}/archive"),
    write("POST", f"{R}/cancel", 202, prepare=queued),
    write("POST", f"{R}/rerun", 201),
    get("marks", "anyone"),
    Row("POST", "documents/check", "anyone", 200, body=lambda _: map_document()),
    get("schema", "public"),
    get("docs", "public"),
]


def address(row: Row, world: World, house: House) -> str:
    """Return the row's address in a house; the member is Ben in ours, the owner in another."""
    user = world.ben if house is world.ours else house.owner
    ids = {name: getattr(house, name).pk for name in ("team", "library", "instrument", "map", "template", "score", "render", "token")}
    path = row.route.replace("<uuid:user>", str(user.pk)).replace(NUMBER, "1").replace(FILE, "tracks/01%20Violins.mid")
    for name, pk in ids.items():
        path = path.replace(f"<uuid:{name}>", str(pk))
    return f"/api/v1/{path}"


def send(row: Row, client: Client, path: str, house: House) -> Any:
    """Send the row's request."""
    body = row.body(house) if row.body else None
    data: Any = body if isinstance(body, bytes) else json.dumps(body) if body is not None else b""
    kind = "application/octet-stream" if isinstance(body, bytes) else JSON
    headers = {"if-match": "*"} if row.match else {}
    return client.generic(row.method, path, data, content_type=kind, headers=headers)
