"""Take the database of a test back to an earlier migration, and to the newest again."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


def migrate_to(*state: Any) -> Any:
    """Migrate to these (app, migration) pairs, and return the models of then."""
    executor = MigrationExecutor(connection)
    executor.migrate(list(state))
    return executor.loader.project_state(list(state)).apps


def newest_afterward(request: pytest.FixtureRequest) -> list[Any]:
    """Return the newest migrations; whatever the test leaves, they are applied when it ends."""
    newest = MigrationExecutor(connection).loader.graph.leaf_nodes()
    request.addfinalizer(lambda: migrate_to(*newest))
    return newest
