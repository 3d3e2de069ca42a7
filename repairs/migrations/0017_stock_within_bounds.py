from decimal import Decimal

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("repairs", "0016_stock_put_right"),
    ]

    operations = [
        migrations.AddConstraint(
            model_name="bench",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("retired_at", None), ("retired_by", None)),
                    models.Q(("retired_at__isnull", False), ("retired_by__isnull", False)),
                    _connector="OR",
                ),
                name="bench_retired_by_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockitem",
            constraint=models.CheckConstraint(
                condition=models.Q(("reorder_level__lte", Decimal("100000"))), name="stock_level_believed"
            ),
        ),
        migrations.AddConstraint(
            model_name="stockitem",
            constraint=models.CheckConstraint(
                condition=models.Q(("price_amount__range", (0, Decimal("99999.99")))), name="stock_price_believed"
            ),
        ),
        migrations.AddConstraint(
            model_name="stockitem",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__range", (Decimal("-500000"), Decimal("500000")))),
                name="stock_quantity_believed",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockitem",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("retired_at", None), models.Q(("quantity", 0), ("retired_by__isnull", False)), _connector="OR"
                ),
                name="stock_retired_empty",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmove",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("reverses__isnull", False), ("why", "reversed")),
                    models.Q(models.Q(("why", "reversed"), _negated=True), ("reverses", None)),
                    _connector="OR",
                ),
                name="stock_move_reverses_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmove",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("moved_from", None), models.Q(("quantity__gt", 0), ("why", "moved")), _connector="OR"
                ),
                name="stock_move_from_another",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmove",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity__range", (Decimal("-999999.999"), Decimal("999999.999")))),
                name="stock_move_believed",
            ),
        ),
        migrations.AddConstraint(
            model_name="stockmove",
            constraint=models.CheckConstraint(
                condition=models.Q(("amount__range", (0, Decimal("999999.99")))), name="stock_move_amount_believed"
            ),
        ),
    ]
