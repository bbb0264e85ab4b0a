"""Set up the triggers that guard the ledger."""

from django.db import migrations

from recycling.ledger import guards


def install(apps, schema_editor):
    guards.install(schema_editor.connection)


def lift(apps, schema_editor):
    guards.lift(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("ledger", "0001_initial")]
    operations = [migrations.RunPython(install, lift)]
