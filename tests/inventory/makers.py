"""Findings for tests, tapped through the service."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from core.models import User
from inventory.models import Finding, Inspection, Integration, Role, Scope
from inventory.services.inspecting import record_finding
from inventory.services.integrations import make_integration
from tests.factories import NOW, TODAY, make_user


def make_finding(draft: Inspection, actor: User, **overrides: Any) -> Finding:
    """A finding tapped in a walk; by default the second valve of a trumpet is slow."""
    fields = {"part": "piston", "fault": "valve_sluggish", "severity": "moderate", "place": "2"} | overrides
    return record_finding(inspection=draft, actor=actor, at=NOW, **fields)


def make_token(**overrides: Any) -> str:
    """The token of a program that may read everything, everywhere, for a year."""
    fields = {
        "name": "Asset list",
        "school": None,
        "scopes": Scope.values,
        "expires_on": TODAY + timedelta(days=365),
        "at": NOW,
    } | overrides
    fields.setdefault("actor", None)
    fields["actor"] = fields["actor"] or make_user(Role.ADMINISTRATOR)
    return make_integration(**fields)


def make_integration_row(**overrides: Any) -> Integration:
    make_token(**overrides)
    return Integration.objects.latest("pk")
