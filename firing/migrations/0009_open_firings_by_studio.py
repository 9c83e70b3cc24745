from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("firing", "0008_sent_files_and_corrections")]

    operations = [
        migrations.AddIndex(
            model_name="booking",
            index=models.Index(
                fields=["studio", "starts_at", "ends_at"], name="booking_by_time"
            ),
        ),
        migrations.AddIndex(
            model_name="firing",
            index=models.Index(
                condition=models.Q(("finished_at__isnull", True)),
                fields=["studio"],
                name="firing_unfinished",
            ),
        ),
    ]
