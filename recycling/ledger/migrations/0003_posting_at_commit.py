"""Set up the guards anew: at commit a posting is held against a seal of another transaction."""

from django.db import migrations

from recycling.ledger import guards


def install(apps, schema_editor):
    guards.install(schema_editor.connection)


class Migration(migrations.Migration):
    dependencies = [("ledger", "0002_guards")]
    operations = [migrations.RunPython(install, migrations.RunPython.noop)]
