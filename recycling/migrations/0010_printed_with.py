from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("recycling", "0009_retired_and_password_links")]

    operations = [
        migrations.AddField(model_name="verdict", name=name, field=models.FloatField(null=True))
        for name in ("nozzle_c", "bed_c", "speed_mm_s")
    ]
