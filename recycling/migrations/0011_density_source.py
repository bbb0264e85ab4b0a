from django.db import migrations, models

FIRST = (("PET", 1.38), ("HDPE", 0.95), ("PP", 0.90), ("PLA", 1.24))


def name_first_source(apps, _schema_editor):
    """Say of densities that workshops were opened with where they came from."""
    polymers = apps.get_model("recycling", "Polymer").objects
    for code, density in FIRST:
        polymers.filter(code=code, density_g_cm3=density).update(density_source="from memory")


class Migration(migrations.Migration):
    dependencies = [("recycling", "0010_printed_with")]

    operations = [
        migrations.AddField(
            "polymer",
            "density_source",
            models.CharField(blank=True, default="", max_length=200),
        ),
        migrations.RunPython(name_first_source, migrations.RunPython.noop),
    ]
