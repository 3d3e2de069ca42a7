"""Findings for tests, tapped through the service."""

from __future__ import annotations

from typing import Any

from core.models import User
from inventory.models import Finding, Inspection
from inventory.services.inspecting import record_finding
from tests.factories import NOW


def make_finding(draft: Inspection, actor: User, **overrides: Any) -> Finding:
    """A finding tapped in a walk; by default the second valve of a trumpet is slow."""
    fields = {"part": "piston", "fault": "valve_sluggish", "severity": "moderate", "place": "2"} | overrides
    return record_finding(inspection=draft, actor=actor, at=NOW, **fields)
