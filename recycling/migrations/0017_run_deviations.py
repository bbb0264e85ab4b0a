"""What runs did otherwise than usual, kept; a background job fills it for books there are."""

import django.db.models.deletion
from django.db import migrations, models
from django.utils import timezone


def fill(apps, schema_editor):
    """Leave it to a job: it works out anew all that follows from the postings."""
    runs = apps.get_model("recycling", "Run").objects.order_by("workshop_id")
    job = apps.get_model("recycling", "Job").objects
    for workshop_id in runs.values_list("workshop_id", flat=True).distinct():
        ids = list(runs.filter(workshop_id=workshop_id).values_list("pk", flat=True))
        job.create(
            workshop_id=workshop_id,
            task="recycling.recompute_compositions",
            arguments={"run_ids": ids},
            created_at=timezone.now(),
        )


class Migration(migrations.Migration):
    dependencies = [("recycling", "0016_superseded_notes")]

    operations = [
        migrations.CreateModel(
            name="RunDeviation",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=20)),
                ("values", models.JSONField()),
                (
                    "lot",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="deviations",
                        to="recycling.lot",
                    ),
                ),
                (
                    "run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="deviations",
                        to="recycling.run",
                    ),
                ),
            ],
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
