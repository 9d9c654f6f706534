"""Members, roles, tokens: rights hold at once, and end at once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from mappings import models
from mappings.services import tokens
from tests.mappings.calls import call, problem
from tests.mappings.threads import at_once
from tests.mappings.world import World, bearer, join, signed_in, soon


def member(world: World, user: models.User) -> str:
    return f"/teams/{world.ours.team.pk}/members/{user.pk}"


def test_a_role_holds_from_the_next_request_on(world: World) -> None:
    rename, body = f"/libraries/{world.ours.library.pk}", {"name": "Fell Library"}
    assert call(world.clients["cleo"], "PUT", rename, body, match="*").status_code == 403
    assert call(world.clients["ada"], "PUT", member(world, world.cleo), {"role": "editor"}).json()["role"] == "editor"
    assert call(world.clients["cleo"], "PUT", rename, body, match="*").status_code == 200
    call(world.clients["ada"], "PUT", member(world, world.cleo), {"role": "reader"})
    assert call(world.clients["cleo"], "PUT", rename, body, match="*").status_code == 403


def test_the_last_owner_stays(world: World) -> None:
    refusals = [
        call(world.clients["ada"], "PUT", member(world, world.ada), {"role": "editor"}),
        call(world.clients["ada"], "DELETE", member(world, world.ada)),
    ]
    for answer in refusals:
        assert problem(answer)[:2] == (409, "last-owner")
        assert answer.json()["detail"] == "role: this is the team's last owner – make somebody else an owner first"
    call(world.clients["ada"], "PUT", member(world, world.ben), {"role": "owner"})
    assert call(world.clients["ada"], "DELETE", member(world, world.ada)).status_code == 204
    assert call(world.clients["ada"], "GET", f"/teams/{world.ours.team.pk}").status_code == 404


def test_everybody_may_leave_and_only_owners_remove_others(world: World) -> None:
    assert problem(call(world.clients["ben"], "DELETE", member(world, world.cleo)))[:2] == (403, "forbidden")
    assert call(world.clients["cleo"], "DELETE", member(world, world.cleo)).status_code == 204
    assert call(world.clients["cleo"], "GET", f"/teams/{world.ours.team.pk}").status_code == 404
    assert call(world.clients["ada"], "DELETE", member(world, world.ben)).status_code == 204
    assert call(world.clients["ada"], "GET", member(world, world.ben)).status_code == 404


def test_of_two_owners_who_leave_at_once_one_stays(open_world: World) -> None:
    world = open_world
    models.Membership.objects.filter(team=world.ours.team, user=world.ben).update(role="owner")
    clients = [(signed_in(user), member(world, user)) for user in (world.ada, world.ben)]
    answers = at_once(2, lambda n: call(clients[n][0], "DELETE", clients[n][1]))
    assert sorted(answer.status_code for answer in answers) == [204, 409]
    assert models.Membership.objects.filter(team=world.ours.team, role="owner").count() == 1


# ── Tokens ──


@pytest.mark.parametrize("end", ["revoked", "expired", "member removed", "user closed", "team archived"])
def test_a_token_ends_with_the_next_request(end: str, world: World) -> None:
    join(world.theirs.team, world.ben, "editor")
    _, secret = tokens.create(signed(world.ben), team=world.theirs.team, name="x", scopes=("read",), expires_at=soon())
    client, path = bearer(secret), f"/teams/{world.theirs.team.pk}"
    assert call(client, "GET", path).status_code == 200
    row = models.Token.objects.get(name="x")
    if end == "revoked":
        assert call(world.clients["ben"], "DELETE", f"/tokens/{row.pk}").status_code == 204
    elif end == "expired":
        models.Token.objects.filter(pk=row.pk).update(expires_at=timezone.now())
    elif end == "member removed":
        models.Membership.objects.filter(team=world.theirs.team, user=world.ben).delete()
    elif end == "user closed":
        models.User.objects.filter(pk=world.ben.pk).update(is_active=False)
    else:
        models.Team.objects.filter(pk=world.theirs.team.pk).update(archived_at=timezone.now())
    answer = call(client, "GET", path)
    assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer")


def signed(user: models.User) -> Any:
    from mappings.access import actor_of

    return actor_of(user)


def test_a_token_has_no_more_than_its_holders_role_now(world: World) -> None:
    rename, body = f"/libraries/{world.ours.library.pk}", {"name": "Fell Library"}
    call(world.clients["ada"], "PUT", member(world, world.ben), {"role": "owner"})
    models.Membership.objects.filter(user=world.ada).update(role="reader")
    assert call(world.clients["writing"], "GET", rename).status_code == 200
    assert call(world.clients["writing"], "PUT", rename, body, match="*").status_code == 403


def test_removing_a_member_revokes_their_tokens(world: World) -> None:
    _, secret = tokens.create(signed(world.ben), team=world.ours.team, name="bens", scopes=("read",), expires_at=soon())
    call(world.clients["ada"], "DELETE", member(world, world.ben))
    join(world.ours.team, world.ben, "editor")  # who comes back does not find old keys working
    assert call(bearer(secret), "GET", "/me").status_code == 401


def test_an_owner_sees_all_tokens_and_others_their_own(world: World) -> None:
    tokens.create(signed(world.cleo), team=world.ours.team, name="cleos", scopes=("read",), expires_at=soon())
    path = f"/teams/{world.ours.team.pk}/tokens"
    seen = {name: {it["name"] for it in call(world.clients[name], "GET", path).json()["items"]} for name in ("ada", "ben", "cleo")}
    assert seen == {"ada": {"moor", "reading", "writing", "expired", "cleos"}, "ben": set(), "cleo": {"cleos"}}


def test_a_tokens_form_and_what_is_kept_of_it(world: World) -> None:
    path = f"/teams/{world.ours.team.pk}/tokens"
    body = {"name": "x", "scopes": ["write"], "expires_at": soon().isoformat()}
    made = call(world.clients["ada"], "POST", path, body).json()
    assert tokens.FORM.fullmatch(made["secret"])
    assert made["scopes"] == ["read", "write"]
    assert "secret" not in call(world.clients["ada"], "GET", f"/tokens/{made['id']}").json()
    late = call(world.clients["ada"], "POST", path, {**body, "expires_at": (timezone.now() + timedelta(days=400)).isoformat()})
    assert problem(late) == (422, "invalid", [("/expires_at", "expiry")])


HEADERS = [
    "", "Bearer", "Bearer ", "Bearer x", "Basic YTpi", "bearer rip_aaaaaaaa_" + "a" * 43, "Bearer rip_aaaaaaaa_" + "é" * 43,
    "Bearer rip_" + "a" * 5000, "Bearer \x00", "Bearer rip_AAAAAAAA_" + "a" * 43, "Token rip_aaaaaaaa_" + "a" * 43,
    "\xff\xfe", "Bearer " + "𝄞",
]  # fmt: skip


@pytest.mark.parametrize("header", HEADERS, ids=range(len(HEADERS)))
def test_whatever_stands_in_the_header_is_answered_with_401(header: str, world: World) -> None:
    """WSGI hands header bytes over as latin-1."""
    answer = world.clients["anonymous"].get("/api/v1/me", headers={"authorization": header.encode().decode("latin-1")})
    assert (answer.status_code, answer.json()["type"]) == (401, "urn:ripieno:problem:not-signed-in")


def test_a_valid_session_does_not_save_a_bad_token(world: World) -> None:
    assert world.clients["ada"].get("/api/v1/me", headers={"authorization": "Bearer nonsense"}).status_code == 401


def test_a_token_almost_right_is_wrong(world: World) -> None:
    secret = world.secrets["reading"]
    wrong = secret[:-1] + ("a" if secret[-1] != "a" else "b")
    assert call(bearer(wrong), "GET", "/me").status_code == 401
    assert call(bearer(secret), "GET", "/me").status_code == 200


def test_the_day_of_use_is_noted_once(world: World) -> None:
    for _ in range(2):
        call(world.clients["reading"], "GET", "/me")
    assert models.Token.objects.get(name="reading").last_used_on == timezone.now().date()


# ── Sessions, teams, the log ──


def test_teams_of_one_name_get_addresses_of_their_own(world: World) -> None:
    slugs = [
        call(world.clients["dan"], "POST", "/teams", {"name": name}).json()["slug"]
        for name in ("Ollenmoor Players", "交響楽団", "交響楽団")
    ]
    assert len({*slugs, world.ours.team.slug}) == 4
    assert slugs[1] == "team"


def test_the_log_says_who_did_what_from_which_version_to_which(world: World) -> None:
    call(world.clients["ben"], "PUT", f"/libraries/{world.ours.library.pk}", {"name": "Fell Library"}, match="*")
    row = call(world.clients["cleo"], "GET", f"/teams/{world.ours.team.pk}/audit?subject={world.ours.library.pk}").json()["items"][0]
    assert {name: row[name] for name in ("actor", "verb", "subject_kind", "from_version", "to_version")} == {
        "actor": "Ben <ben@moor.invalid>", "verb": "library.rename", "subject_kind": "library", "from_version": 1, "to_version": 2,
    }  # fmt: skip


def test_the_log_names_the_request(world: World) -> None:
    answer = call(world.clients["writing"], "PUT", f"/libraries/{world.ours.library.pk}", {"name": "Fell Library"}, match="*")
    row = models.Audit.objects.get(verb="library.rename")
    assert row.request_id == answer.headers["X-Request-Id"]
    assert str(row.token_id) == str(models.Token.objects.get(name="writing").pk)


def test_an_archived_team_is_gone_for_everybody(world: World) -> None:
    assert call(world.clients["ada"], "DELETE", f"/teams/{world.ours.team.pk}", match="*").status_code == 202
    for name in ("ada", "ben", "cleo"):
        assert call(world.clients[name], "GET", f"/maps/{world.ours.map.pk}").status_code == 404
    assert call(world.clients["writing"], "GET", "/me").status_code == 401
    assert call(world.clients["dan"], "GET", f"/maps/{world.theirs.map.pk}").status_code == 200
