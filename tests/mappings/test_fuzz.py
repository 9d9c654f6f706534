"""The API against its own description: schemathesis makes requests from the schema and judges the answers, all checks on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from hypothesis import HealthCheck, Phase, settings
from schemathesis.config import SchemathesisConfig

from tests.mappings.world import World

# What an operation documents may answer a request that its schema allows: ids that name nothing, states that have passed.
DOCUMENTED = ["2xx", "400", "401", "403", "404", "406", "409", "410", "411", "412", "413", "415", "422", "428", "429"]
CHECKS = {
    "positive_data_acceptance": {"expected-statuses": DOCUMENTED},
    "negative_data_rejection": {"expected-statuses": DOCUMENTED[1:]},
    "missing_required_header": {"expected-statuses": DOCUMENTED[1:]},
}
CONFIG = SchemathesisConfig.from_dict({"checks": CHECKS, "generation": {"with-security-parameters": False}})
schema = schemathesis.openapi.from_wsgi("/api/v1/schema", get_wsgi_application(), config=CONFIG)
IDS: dict[str, str] = {}  # the ids of the running test's world


@schema.hook
def map_path_parameters(context: Any, path_parameters: Any) -> Any:
    """Put ids of the world into three of four addresses whose ids are ids; a broken one stays broken."""
    if not path_parameters:
        return path_parameters
    return {name: IDS[name] if name in IDS and usual(value) else value for name, value in path_parameters.items()}


def usual(value: Any) -> bool:
    return bool(re.fullmatch(r"[4-9a-f][0-9a-f]{7}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", str(value)))


@pytest.fixture(autouse=True)
def _behind(world: World) -> Iterator[None]:
    """Put a world behind the API, and let requests use the test's own connection, as Django's test client does."""
    heads = ("team", "library", "instrument", "map", "template", "score", "render", "token")
    IDS.update({name: str(getattr(world.ours, name).pk) for name in heads} | {"user": str(world.ben.pk)})
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


FUZZ: dict[str, Any] = {
    "deadline": None, "database": None, "derandomize": True, "phases": [Phase.explicit, Phase.generate],
    "suppress_health_check": list(HealthCheck),
}  # fmt: skip


def ask(case: schemathesis.Case, world: World) -> None:
    """Send a case with a token that may write, and let every check judge the answer."""
    case.call_and_validate(headers={"Authorization": f"Bearer {world.secrets['writing']}"})


# Making up maps and templates from their schemas takes long: in the short run test_documents breaks real ones instead.
DOCUMENTS = ["maps_post", "map_document_put", "templates_post", "template_document_put"]


@schema.exclude(operation_id=DOCUMENTS).parametrize()
@settings(max_examples=3, **FUZZ)
def test_the_api_keeps_to_its_description(case: schemathesis.Case, world: World) -> None:
    ask(case, world)


@pytest.mark.deep
@schema.parametrize()
@settings(max_examples=50, **FUZZ)
def test_the_api_keeps_to_its_description_for_long(case: schemathesis.Case, world: World) -> None:
    ask(case, world)
