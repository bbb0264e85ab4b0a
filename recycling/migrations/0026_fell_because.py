from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("recycling", "0024_lists")]

    operations = [
        migrations.AddField(
            "meterreading",
            "fell_because",
            models.CharField(
                blank=True,
                choices=[
                    ("replaced", "replaced"),
                    ("set to zero", "set to zero"),
                    ("ran over", "ran over"),
                ],
                default="",
                max_length=11,
            ),
        ),
    ]
