"""Shots taken at the bench are kept once; a pass has no single material any more."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("studio", "0011_colours_of_a_pass")]

    operations = [
        migrations.RemoveField(model_name="pass", name="material"),
        migrations.AddField(
            model_name="picture",
            name="shot",
            field=models.UUIDField(editable=False, null=True),
        ),
        migrations.AddConstraint(
            model_name="picture",
            constraint=models.UniqueConstraint(
                fields=("studio", "shot"), name="shot_kept_once"
            ),
        ),
    ]
