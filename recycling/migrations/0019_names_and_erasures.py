"""Names move out of the history of changes, which nobody can change, so that they can be erased."""

import django.db.models.deletion
from collections import Counter

from django.db import migrations, models

from recycling.ledger import guards


def move_names(apps, schema_editor):
    """Keep earlier names of sources apart; leave numbers in the history, and no notes."""
    events = apps.get_model("recycling", "ChangeEvent").objects
    earlier = apps.get_model("recycling", "EarlierName").objects
    of_sources = events.filter(subject__startswith="source ").order_by("pk")
    if not of_sources.exists():
        return
    numbers = Counter()
    with guards.lifted(schema_editor.connection):
        for event in of_sources:
            if event.deed == "change" and "name" in event.before:
                numbers[event.workshop_id, event.subject] += 1
                number = numbers[event.workshop_id, event.subject]
                earlier.create(
                    workshop_id=event.workshop_id,
                    subject=event.subject,
                    number=number,
                    name=event.before["name"][:120],
                    until_at=event.written_at,
                )
                event.before["name"], event.after["name"] = f"№ {number}", f"№ {number + 1}"
            else:
                event.after.pop("name", None)
            for side in (event.before, event.after):
                if "note" in side:
                    side["note"] = "…"
            event.save(update_fields=["before", "after"])


class Migration(migrations.Migration):
    dependencies = [
        ("recycling", "0018_polymer_limits"),
    ]

    operations = [
        migrations.CreateModel(
            name="EarlierName",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("subject", models.CharField(max_length=60)),
                ("number", models.PositiveSmallIntegerField()),
                ("name", models.CharField(max_length=120)),
                ("until_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Erasure",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("workshop", models.UUIDField()),
                ("kind", models.CharField(max_length=10)),
                ("identity", models.CharField(max_length=40)),
                ("erased_at", models.DateTimeField()),
            ],
        ),
        migrations.RemoveConstraint(
            model_name="answer",
            name="one_answer",
        ),
        migrations.AddField(
            model_name="answer",
            name="actor",
            field=models.UUIDField(null=True),
        ),
        migrations.AddField(
            model_name="member",
            name="is_erased",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="source",
            name="is_erased",
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name="answer",
            constraint=models.UniqueConstraint(
                fields=("workshop", "actor", "key"), name="one_answer"
            ),
        ),
        migrations.AddField(
            model_name="earliername",
            name="workshop",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="earlier_names",
                to="recycling.workshop",
            ),
        ),
        migrations.AddConstraint(
            model_name="erasure",
            constraint=models.UniqueConstraint(
                fields=("workshop", "kind", "identity"), name="one_erasure"
            ),
        ),
        migrations.AddConstraint(
            model_name="earliername",
            constraint=models.UniqueConstraint(
                fields=("workshop", "subject", "number"), name="one_earlier_name"
            ),
        ),
        migrations.RunPython(move_names, migrations.RunPython.noop),
    ]
