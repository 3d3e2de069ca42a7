from django.db import migrations, models
from django.db.models import PROTECT


class Migration(migrations.Migration):
    """Names in Python only: the table, its columns and its constraints stay as they are."""

    dependencies = [
        ("repairs", "0010_drop_cautions_of_jobs"),
    ]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.AlterModelTable("partshorn", "repairs_partshorn"),
                migrations.RenameModel("PartsHorn", "PartsInstrument"),
                migrations.AlterField(
                    "partsinstrument",
                    "instrument",
                    models.ForeignKey("inventory.instrument", PROTECT, related_name="parts_instruments"),
                ),
                migrations.RemoveConstraint("takenpart", "taken_part_once"),
                migrations.RenameField("takenpart", "parts_horn", "parts_instrument"),
                migrations.AlterField(
                    "takenpart",
                    "parts_instrument",
                    models.ForeignKey(
                        "repairs.partsinstrument", PROTECT, related_name="taken", db_column="parts_horn_id"
                    ),
                ),
                migrations.AddConstraint(
                    "takenpart",
                    models.UniqueConstraint(fields=("parts_instrument", "part", "place"), name="taken_part_once"),
                ),
            ]
        )
    ]
