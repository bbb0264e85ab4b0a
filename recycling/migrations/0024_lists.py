import django.db.models.deletion
from django.db import migrations, models


def texts_to_bytes(apps, _editor):
    files = apps.get_model("recycling", "ImportFile").objects
    for pk, text in files.values_list("pk", "text").iterator(chunk_size=1):
        files.filter(pk=pk).update(data=text.encode())


def bytes_to_texts(apps, _editor):
    files = apps.get_model("recycling", "ImportFile").objects
    for pk, data in files.values_list("pk", "data").iterator(chunk_size=1):
        files.filter(pk=pk).update(text=bytes(data).decode("utf-8", "replace"))


class Migration(migrations.Migration):
    dependencies = [("recycling", "0023_makers_give")]

    operations = [
        migrations.AddField("importfile", "data", models.BinaryField(default=b"")),
        migrations.AlterField("importfile", "text", models.TextField(default="")),
        migrations.RunPython(texts_to_bytes, bytes_to_texts),
        migrations.RemoveField("importfile", "text"),
        migrations.AddField("importfile", "answers", models.JSONField(default=dict)),
        migrations.AlterField(
            "importfile",
            "state",
            models.CharField(
                choices=[
                    ("looking", "looking"),
                    ("asked", "asked"),
                    ("looked", "looked"),
                    ("taking", "taking"),
                    ("taken", "taken"),
                    ("failed", "failed"),
                    ("undoing", "undoing"),
                    ("undone", "undone"),
                ],
                max_length=7,
            ),
        ),
        migrations.CreateModel(
            name="ImportLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField()),
                (
                    "fate",
                    models.CharField(
                        choices=[("new", "new"), ("known", "known"), ("left", "left")],
                        max_length=5,
                    ),
                ),
                ("why", models.CharField(blank=True, default="", max_length=20)),
                ("day", models.DateField(null=True)),
                ("said", models.JSONField(default=dict)),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="lines",
                        to="recycling.importfile",
                    ),
                ),
                (
                    "lot",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="lines",
                        to="recycling.lot",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["file", "fate", "number"], name="import_line_fate")
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("file", "number"), name="one_import_line")
                ],
            },
        ),
        migrations.CreateModel(
            name="ListAnswer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("heads", models.CharField(blank=True, default="", max_length=64)),
                ("key", models.CharField(max_length=200)),
                ("choice", models.CharField(max_length=200)),
                ("answered_at", models.DateTimeField()),
                (
                    "workshop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="list_answers",
                        to="recycling.workshop",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(
                        fields=("workshop", "heads", "key"), name="one_list_answer"
                    )
                ],
            },
        ),
    ]
