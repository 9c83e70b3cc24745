"""A glass without its maker's annealing point takes its family's."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("studio", "0001_tables")]

    operations = [
        migrations.AlterField(
            model_name="glass",
            name="annealing_point_c",
            field=models.FloatField(
                blank=True,
                help_text="The maker's own; empty takes the family's.",
                null=True,
            ),
        ),
    ]
