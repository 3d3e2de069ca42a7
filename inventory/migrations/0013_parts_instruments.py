from django.db import migrations, models


class Migration(migrations.Migration):
    """A name in Python only: the column stays as it is."""

    dependencies = [
        ("inventory", "0012_indexes_that_lists_sort_by"),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.RenameField("instrument", "is_parts_horn", "is_parts_instrument"),
                migrations.AlterField(
                    "instrument",
                    "is_parts_instrument",
                    models.BooleanField(default=False, db_column="is_parts_horn"),
                ),
            ]
        )
    ]
