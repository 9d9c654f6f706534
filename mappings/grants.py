"""Who may do what: the one table of actions."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple


class Role(IntEnum):
    """Roles in a team, each including those before it."""

    READER = 1
    EDITOR = 2
    OWNER = 3

    @property
    def word(self) -> str:
        """The role as it is stored and sent."""
        return self.name.lower()


ROLE = {role.word: role for role in Role}


class Grant(NamedTuple):
    """Least role for an action; `session`: only a person who is signed in may do it, never a token."""

    role: Role
    session: bool = False


READ, WRITE, OWN = Grant(Role.READER), Grant(Role.EDITOR), Grant(Role.OWNER)

GRANTS: dict[str, Grant] = {
    "team.read": READ,
    "team.write": Grant(Role.OWNER, session=True),
    "team.archive": Grant(Role.OWNER, session=True),
    "member.read": READ,
    "member.write": Grant(Role.OWNER, session=True),
    # Leaving is everybody's right; that only owners remove others is the service's rule.
    "member.remove": Grant(Role.READER, session=True),
    "token.read": Grant(Role.READER, session=True),
    "token.write": Grant(Role.READER, session=True),
    "audit.read": READ,
    "library.read": READ,
    "library.write": WRITE,
    "map.read": READ,
    "map.write": WRITE,
    "template.read": READ,
    "template.write": WRITE,
    "score.read": READ,
    "score.write": WRITE,
    "render.read": READ,
    "render.write": WRITE,
}
