"""Give every workshop a random identity that stays the same wherever it is kept."""

import uuid

from django.db import migrations, models


def give_identities(apps, schema_editor):
    Workshop = apps.get_model("recycling", "Workshop")
    for workshop in Workshop.objects.filter(identity=None):
        workshop.identity = uuid.uuid4()
        workshop.save(update_fields=["identity"])


class Migration(migrations.Migration):
    dependencies = [("recycling", "0004_energy")]

    operations = [
        migrations.AddField(
            "workshop", "identity", models.UUIDField(null=True, editable=False)
        ),
        migrations.RunPython(give_identities, migrations.RunPython.noop),
        migrations.AlterField(
            "workshop",
            "identity",
            models.UUIDField(default=uuid.uuid4, editable=False, unique=True),
        ),
    ]
