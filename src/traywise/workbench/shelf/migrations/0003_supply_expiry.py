"""Boxes of needles, syringes and the rest get the last day on which they may be used."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("shelf", "0002_append_only")]

    operations = [
        migrations.AlterModelOptions(
            name="supply",
            options={"ordering": ["item", "gauge", "length_mm", "volume_ml", "expires", "id"]},
        ),
        migrations.AddField(
            model_name="supply",
            name="expires",
            field=models.DateField(blank=True, null=True),
        ),
    ]
