"""What an upgrade of core does to data of earlier versions."""

from __future__ import annotations

import pytest
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from tests.migrating import migrate_to, newest_afterward

OLD = ("axes_accessattempt", "axes_accessattemptexpiration", "axes_accesslog")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_names_and_addresses_of_earlier_tries_go_with_their_tables(request):
    newest = newest_afterward(request)
    migrate_to(("core", "0006_tries"))
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE axes_accesslog (username varchar(255))")
        cursor.execute("INSERT INTO axes_accesslog VALUES ('dana')")
        cursor.execute("CREATE TABLE axes_accessattempt (id integer PRIMARY KEY)")
        cursor.execute(
            "CREATE TABLE axes_accessattemptexpiration (attempt integer PRIMARY KEY REFERENCES axes_accessattempt (id))"
        )
    MigrationRecorder(connection).record_applied("axes", "0001_initial")
    migrate_to(*newest)
    assert not set(OLD) & set(connection.introspection.table_names())
    assert not MigrationRecorder(connection).migration_qs.filter(app="axes").exists()
