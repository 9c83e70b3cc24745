"""A pass was painted with one material; it may be with several."""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def carry_over(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Keep what every pass was painted with."""
    Pass = apps.get_model("studio", "Pass")  # noqa: N806 - a model
    painted = Pass._base_manager.using(schema_editor.connection.alias).exclude(
        material=None
    )
    through = Pass.materials.through
    through._base_manager.bulk_create(
        (
            through(pass_id=key, material_id=material)
            for key, material in painted.values_list("pk", "material")
        ),
        batch_size=500,
    )


class Migration(migrations.Migration):
    dependencies = [("studio", "0010_pictures_for_the_depth_view")]

    operations = [
        migrations.AddField(
            model_name="pass",
            name="materials",
            field=models.ManyToManyField(
                blank=True, related_name="+", to="studio.material"
            ),
        ),
        migrations.RunPython(carry_over, migrations.RunPython.noop),
    ]
