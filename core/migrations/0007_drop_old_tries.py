"""Drop the tables in which a package that is gone kept the names and addresses of everybody who tried to log in."""

from django.db import migrations
from django.db.migrations.recorder import MigrationRecorder

TABLES = (
    "axes_accessattemptexpiration",  # refers to the next
    "axes_accessattempt",
    "axes_accessfailurelog",
    "axes_accesslog",
)


def drop(apps, schema_editor):
    connection = schema_editor.connection
    there = set(connection.introspection.table_names())
    for table in TABLES:
        if table in there:
            schema_editor.execute(f"DROP TABLE {schema_editor.quote_name(table)}")
    # So that an older version, if one goes back to it, makes them anew.
    MigrationRecorder(connection).migration_qs.filter(app="axes").delete()


class Migration(migrations.Migration):
    dependencies = [("core", "0006_tries")]

    operations = [migrations.RunPython(drop, migrations.RunPython.noop, elidable=True)]
