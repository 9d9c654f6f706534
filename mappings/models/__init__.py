"""The tables of the service, one module a subject."""

from __future__ import annotations

from mappings.models.keeping import Blob, Document
from mappings.models.libraries import Instrument, Library
from mappings.models.maps import Map, MapMark, MapRevision
from mappings.models.people import Membership, Team, Token, User
from mappings.models.renders import Render, RenderFile, RenderInput
from mappings.models.scores import Score, ScoreVersion
from mappings.models.templates import Template, TemplateRevision, TemplateTrack
from mappings.models.upkeep import Audit, Counter, IdempotencyKey

__all__ = [
    "Audit",
    "Blob",
    "Counter",
    "Document",
    "IdempotencyKey",
    "Instrument",
    "Library",
    "Map",
    "MapMark",
    "MapRevision",
    "Membership",
    "Render",
    "RenderFile",
    "RenderInput",
    "Score",
    "ScoreVersion",
    "Team",
    "Template",
    "TemplateRevision",
    "TemplateTrack",
    "Token",
    "User",
]
