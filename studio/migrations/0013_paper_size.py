from django.db import migrations, models


def keep_the_usual(apps, schema_editor):
    """Until now papers went by the unit of length."""
    studios = apps.get_model("studio", "Studio").objects
    studios.filter(length_unit="in").update(paper_size="letter")


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0012_shots"),
    ]

    operations = [
        migrations.AddField(
            model_name="studio",
            name="paper_size",
            field=models.CharField(
                choices=[("A4", "A4"), ("letter", "US Letter")],
                default="A4",
                max_length=6,
            ),
        ),
        migrations.RunPython(keep_the_usual, migrations.RunPython.noop),
    ]
