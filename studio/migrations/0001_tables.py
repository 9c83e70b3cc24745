import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.manager
import django.utils.timezone
import studio.models.document
import studio.models.export
import studio.models.picture
import studio.models.studio
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    # Made of the steps of the first weeks; whoever has taken them all has these tables.
    replaces = [
        ("studio", "0001_initial"),
        ("studio", "0002_bench_hours"),
        ("studio", "0003_glass_expansion"),
        ("studio", "0004_kiln_offset"),
        ("studio", "0005_bench_minutes_and_due_dates"),
        ("studio", "0006_job_lookups"),
        ("studio", "0007_leaving"),
    ]

    initial = True

    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
    ]

    operations = [
        migrations.CreateModel(
            name="Studio",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                ("address", models.TextField(blank=True)),
                (
                    "currency",
                    models.CharField(
                        default="USD",
                        max_length=3,
                        validators=[studio.models.studio.validate_currency],
                    ),
                ),
                (
                    "time_zone",
                    models.CharField(
                        default="UTC",
                        max_length=64,
                        validators=[studio.models.studio.validate_time_zone],
                    ),
                ),
                (
                    "temperature_unit",
                    models.CharField(
                        choices=[("C", "°C"), ("F", "°F")], default="C", max_length=1
                    ),
                ),
                (
                    "length_unit",
                    models.CharField(
                        choices=[("mm", "mm"), ("in", "inches")],
                        default="mm",
                        max_length=2,
                    ),
                ),
                ("is_demo", models.BooleanField(default=False)),
                ("created_at", models.DateTimeField()),
                (
                    "delete_at",
                    models.DateTimeField(
                        blank=True,
                        help_text="When it is deleted with all it owns.",
                        null=True,
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Person",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                (
                    "last_login",
                    models.DateTimeField(
                        blank=True, null=True, verbose_name="last login"
                    ),
                ),
                (
                    "is_superuser",
                    models.BooleanField(
                        default=False,
                        help_text="Designates that this user has all permissions without explicitly assigning them.",
                        verbose_name="superuser status",
                    ),
                ),
                (
                    "is_staff",
                    models.BooleanField(
                        default=False,
                        help_text="Designates whether the user can log into this admin site.",
                        verbose_name="staff status",
                    ),
                ),
                (
                    "is_active",
                    models.BooleanField(
                        default=True,
                        help_text="Designates whether this user should be treated as active. Unselect this instead of deleting accounts.",
                        verbose_name="active",
                    ),
                ),
                (
                    "date_joined",
                    models.DateTimeField(
                        default=django.utils.timezone.now, verbose_name="date joined"
                    ),
                ),
                (
                    "email",
                    models.EmailField(
                        max_length=254, unique=True, verbose_name="e-mail address"
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                (
                    "groups",
                    models.ManyToManyField(
                        blank=True,
                        help_text="The groups this user belongs to. A user will get all permissions granted to each of their groups.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.group",
                        verbose_name="groups",
                    ),
                ),
                (
                    "user_permissions",
                    models.ManyToManyField(
                        blank=True,
                        help_text="Specific permissions for this user.",
                        related_name="user_set",
                        related_query_name="user",
                        to="auth.permission",
                        verbose_name="user permissions",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("email", django.db.models.functions.text.Lower("email"))
                        ),
                        name="person_email_lower",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("owner", "Owner"),
                            ("maker", "Maker"),
                            ("helper", "Helper"),
                            ("technician", "Technician"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "temperature_unit",
                    models.CharField(
                        choices=[("C", "°C"), ("F", "°F")], default="C", max_length=1
                    ),
                ),
                (
                    "length_unit",
                    models.CharField(
                        choices=[("mm", "mm"), ("in", "inches")],
                        default="mm",
                        max_length=2,
                    ),
                ),
                ("is_active", models.BooleanField(default=True)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio", "person"),
                        name="membership_once_per_studio",
                        violation_error_message="This person belongs to the studio already.",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Kiln",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("inner_width_mm", models.FloatField()),
                ("inner_depth_mm", models.FloatField()),
                ("inner_height_mm", models.FloatField()),
                ("shelf_width_mm", models.FloatField()),
                ("shelf_depth_mm", models.FloatField()),
                ("max_temperature_c", models.FloatField()),
                (
                    "opening_temperature_c",
                    models.FloatField(
                        default=50.0, help_text="Below this the kiln may be opened."
                    ),
                ),
                ("power_w", models.FloatField()),
                (
                    "holding_fraction",
                    models.FloatField(
                        default=0.5,
                        help_text="Share of full power that holds the highest temperature.",
                    ),
                ),
                (
                    "cooling_time_constant_s",
                    models.FloatField(
                        default=21600.0,
                        help_text="Time in which the kiln, switched off, falls to 37 % of its heat.",
                    ),
                ),
                (
                    "offset_k",
                    models.FloatField(
                        default=0.0,
                        help_text="How much hotter the kiln is than it shows, in kelvin.",
                    ),
                ),
                (
                    "offset_uncertainty_k",
                    models.FloatField(
                        default=5.0,
                        help_text="How far that may be off, either way, in kelvin.",
                    ),
                ),
                ("offset_found_on", models.DateField(blank=True, null=True)),
                (
                    "offset_how",
                    models.CharField(
                        blank=True,
                        help_text="How the offset was found.",
                        max_length=160,
                    ),
                ),
                (
                    "controller_unit",
                    models.CharField(choices=[("C", "°C"), ("F", "°F")], max_length=1),
                ),
                ("controller_segments", models.PositiveSmallIntegerField(default=8)),
                (
                    "rate_step",
                    models.FloatField(
                        default=1.0,
                        help_text="Smallest step of a rate, in degrees of the controller's own unit.",
                    ),
                ),
                ("slowest_rate_c_per_h", models.FloatField(default=1.0)),
                ("fastest_rate_c_per_h", models.FloatField(default=1000.0)),
                (
                    "hourly_rate",
                    models.DecimalField(decimal_places=4, default=0, max_digits=14),
                ),
                ("is_retired", models.BooleanField(default=False)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio", "name"),
                        name="kiln_name_once_per_studio",
                        violation_error_message="This studio has a kiln of that name. Choose another name.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("shelf_width_mm__lte", models.F("inner_width_mm")),
                            ("shelf_depth_mm__lte", models.F("inner_depth_mm")),
                        ),
                        name="kiln_shelf_fits_inside",
                        violation_error_message="The shelf is wider or deeper than the kiln inside. Measure both again.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cooling_time_constant_s__gt", 0),
                            ("holding_fraction__gt", 0),
                            ("holding_fraction__lte", 1),
                            ("hourly_rate__gte", 0),
                            ("inner_depth_mm__gt", 0),
                            ("inner_height_mm__gt", 0),
                            ("inner_width_mm__gt", 0),
                            ("power_w__gt", 0),
                            ("rate_step__gt", 0),
                            ("shelf_depth_mm__gt", 0),
                            ("shelf_width_mm__gt", 0),
                            ("slowest_rate_c_per_h__gt", 0),
                        ),
                        name="kiln_sizes_positive",
                        violation_error_message="Sizes, power, holding share, cooling time and rates must be above zero, the holding share at most 1.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("offset_k__gte", -60),
                            ("offset_k__lte", 60),
                            ("offset_uncertainty_k__gte", 0),
                            ("offset_uncertainty_k__lte", 40),
                        ),
                        name="kiln_offset_in_reach",
                        violation_error_message="A thermocouple is at most 60 °C (108 °F) off, and that is known to 40 °C (72 °F) or better. Have it looked at.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("opening_temperature_c__gte", 30),
                            (
                                "opening_temperature_c__lt",
                                models.F("max_temperature_c"),
                            ),
                            (
                                "slowest_rate_c_per_h__lt",
                                models.F("fastest_rate_c_per_h"),
                            ),
                        ),
                        name="kiln_limits_in_order",
                        violation_error_message="The opening temperature must be from 30 °C (86 °F) up to below the highest temperature, and the slowest rate below the fastest.",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="AccessHours",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "weekday",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "Monday"),
                            (1, "Tuesday"),
                            (2, "Wednesday"),
                            (3, "Thursday"),
                            (4, "Friday"),
                            (5, "Saturday"),
                            (6, "Sunday"),
                        ]
                    ),
                ),
                ("opens", models.TimeField()),
                ("closes", models.TimeField()),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("opens__lt", models.F("closes"))),
                        name="access_opens_before_closing",
                        violation_error_message="Opening must be before closing. For a night, enter two spans: one up to 23:59, one from 00:00 on the next day.",
                    ),
                    models.UniqueConstraint(
                        fields=("studio", "weekday", "opens"),
                        name="access_hours_once",
                        violation_error_message="There are hours that start then on that day. Remove those first.",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="BenchMinutes",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "cutting_minutes_per_layer",
                    models.PositiveSmallIntegerField(default=10),
                ),
                (
                    "painting_minutes_per_pass",
                    models.PositiveSmallIntegerField(default=90),
                ),
                (
                    "loading_minutes_per_firing",
                    models.PositiveSmallIntegerField(default=30),
                ),
                ("assembly_minutes", models.PositiveSmallIntegerField(default=180)),
                ("coldwork_minutes", models.PositiveSmallIntegerField(default=240)),
            ],
            options={
                "verbose_name_plural": "bench minutes",
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio",), name="bench_minutes_once"
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Document",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("kind", models.CharField(max_length=40)),
                ("subject_id", models.PositiveBigIntegerField()),
                ("title", models.CharField(max_length=200)),
                ("inputs_sha256", models.CharField(max_length=64)),
                (
                    "file",
                    models.FileField(
                        max_length=200, upload_to=studio.models.document.document_path
                    ),
                ),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio", "kind", "subject_id", "inputs_sha256"),
                        name="document_made_once",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Job",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("name", models.CharField(max_length=100)),
                ("arguments", models.JSONField(default=dict)),
                (
                    "key",
                    models.CharField(
                        blank=True,
                        help_text="While a job with this key waits or runs, there is no second one.",
                        max_length=200,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "Waiting"),
                            ("running", "Running"),
                            ("done", "Done"),
                            ("failed", "Failed"),
                        ],
                        default="waiting",
                        max_length=8,
                    ),
                ),
                ("progress", models.CharField(blank=True, max_length=200)),
                ("error", models.TextField(blank=True)),
                ("attempts", models.PositiveSmallIntegerField(default=0)),
                ("token", models.CharField(blank=True, max_length=32)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("run_after", models.DateTimeField()),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("created_at", models.DateTimeField()),
                ("started_at", models.DateTimeField(blank=True, null=True)),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "indexes": [
                    models.Index(
                        fields=["state", "studio", "name"], name="job_by_state"
                    ),
                    models.Index(fields=["studio", "key"], name="job_by_key"),
                    models.Index(
                        fields=["studio", "name", "created_at"], name="job_by_name"
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(
                            models.Q(("key", ""), _negated=True),
                            ("state__in", ["waiting", "running"]),
                        ),
                        fields=("studio", "key"),
                        name="job_key_once_while_open",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state", "running"), _negated=True),
                            models.Q(
                                ("lease_until__isnull", False),
                                models.Q(("token", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="job_running_has_lease",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Glass",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                (
                    "family",
                    models.CharField(
                        choices=[
                            ("float", "Soda-lime float"),
                            ("90-expansion", "90-expansion fusing glass"),
                            ("96-expansion", "96-expansion fusing glass"),
                            ("borosilicate-3.3", "Borosilicate 3.3"),
                        ],
                        max_length=20,
                    ),
                ),
                ("sheet_thickness_mm", models.FloatField(default=3.0)),
                ("density_kg_m3", models.FloatField(default=2500.0)),
                (
                    "anneal_soak_c",
                    models.FloatField(
                        help_text="From the maker's data sheet, never from the expansion number."
                    ),
                ),
                ("annealing_point_c", models.FloatField()),
                ("strain_point_c", models.FloatField()),
                (
                    "expansion_1e7_per_k",
                    models.FloatField(
                        blank=True,
                        help_text="Mean of 20-300 °C; empty takes the family's.",
                        null=True,
                    ),
                ),
                ("full_fuse_c", models.FloatField(default=815.6)),
                ("enamel_c", models.FloatField(default=593.3)),
                ("cost_per_m2", models.DecimalField(decimal_places=4, max_digits=14)),
                ("is_retired", models.BooleanField(default=False)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio", "name"),
                        name="glass_name_once_per_studio",
                        violation_error_message="This studio has a glass of that name. Choose another name.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("strain_point_c__lt", models.F("annealing_point_c")),
                            ("annealing_point_c__lt", models.F("enamel_c")),
                            ("enamel_c__lt", models.F("full_fuse_c")),
                            ("anneal_soak_c__lt", models.F("enamel_c")),
                        ),
                        name="glass_temperatures_in_order",
                        violation_error_message="These temperatures must rise: strain point, annealing point, enamel firing, full fuse; and the anneal soak lies below the enamel firing. Look at the data sheet again.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cost_per_m2__gte", 0),
                            ("density_kg_m3__gt", 0),
                            ("sheet_thickness_mm__gt", 0),
                        ),
                        name="glass_amounts_positive",
                        violation_error_message="Thickness and density must be above zero, and the cost must not be negative.",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Material",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("name", models.CharField(max_length=120)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("enamel", "Enamel"),
                            ("decal", "Decal"),
                            ("powder", "Powder (glass)"),
                            ("fibre paper", "Fibre paper"),
                            ("kiln wash", "Kiln wash"),
                            ("other", "Other"),
                        ],
                        max_length=20,
                    ),
                ),
                ("unit", models.CharField(help_text="g, sheet, m²", max_length=20)),
                ("cost_per_unit", models.DecimalField(decimal_places=4, max_digits=14)),
                (
                    "used_per",
                    models.CharField(
                        choices=[
                            ("pass area", "square metre of each pass"),
                            ("fuse area", "square metre of shelf in each fuse"),
                            ("piece", "piece"),
                            ("not priced", "nothing: not part of quotes"),
                        ],
                        default="not priced",
                        max_length=20,
                    ),
                ),
                (
                    "amount_used",
                    models.DecimalField(decimal_places=4, default=0, max_digits=12),
                ),
                (
                    "on_hand",
                    models.DecimalField(decimal_places=3, default=0, max_digits=12),
                ),
                (
                    "caution",
                    models.CharField(
                        blank=True,
                        help_text="For instance: may hold lead.",
                        max_length=200,
                    ),
                ),
                ("is_retired", models.BooleanField(default=False)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio", "name"),
                        name="material_name_once_per_studio",
                        violation_error_message="This studio has a material of that name. Choose another name.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("amount_used__gte", 0), ("cost_per_unit__gte", 0)
                        ),
                        name="material_amounts_not_negative",
                        violation_error_message="Cost and amount must not be negative.",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Closure",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "kiln",
                    models.ForeignKey(
                        blank=True,
                        help_text="Empty: the whole studio.",
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        to="studio.kiln",
                    ),
                ),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("reason", models.CharField(max_length=160)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("starts_at__lt", models.F("ends_at"))),
                        name="closure_start_before_end",
                        violation_error_message="The end must be after the start.",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="BenchHours",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "membership",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="bench_hours",
                        to="studio.membership",
                    ),
                ),
                (
                    "weekday",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "Monday"),
                            (1, "Tuesday"),
                            (2, "Wednesday"),
                            (3, "Thursday"),
                            (4, "Friday"),
                            (5, "Saturday"),
                            (6, "Sunday"),
                        ]
                    ),
                ),
                ("starts", models.TimeField()),
                ("ends", models.TimeField()),
            ],
            options={
                "verbose_name_plural": "bench hours",
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("starts__lt", models.F("ends"))),
                        name="bench_starts_before_end",
                    ),
                    models.UniqueConstraint(
                        fields=("membership", "weekday", "starts"),
                        name="bench_hours_once",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="BenchTerms",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "membership",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="bench_terms",
                        to="studio.membership",
                    ),
                ),
                (
                    "hours_a_week",
                    models.PositiveSmallIntegerField(blank=True, null=True),
                ),
                ("has_own_skills", models.BooleanField(default=False)),
                ("can_paint", models.BooleanField(default=False)),
                ("can_assemble", models.BooleanField(default=False)),
                ("can_coldwork", models.BooleanField(default=False)),
            ],
            options={
                "verbose_name_plural": "bench terms",
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("hours_a_week__isnull", True),
                            models.Q(
                                ("hours_a_week__gte", 1), ("hours_a_week__lte", 168)
                            ),
                            _connector="OR",
                        ),
                        name="bench_limit_sensible",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="DaysAway",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "membership",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="days_away",
                        to="studio.membership",
                    ),
                ),
                ("starts_date", models.DateField()),
                ("ends_date", models.DateField()),
                (
                    "reason",
                    models.CharField(
                        choices=[
                            ("holiday", "Holiday"),
                            ("sick", "Sick"),
                            ("other", "Something else"),
                        ],
                        default="holiday",
                        max_length=8,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=160)),
            ],
            options={
                "verbose_name_plural": "days away",
                "ordering": ["starts_date", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("starts_date__lte", models.F("ends_date"))),
                        name="away_starts_before_end",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Export",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("asked_at", models.DateTimeField()),
                (
                    "asked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "job",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="studio.job",
                    ),
                ),
                (
                    "file",
                    models.FileField(
                        blank=True,
                        max_length=200,
                        upload_to=studio.models.export.archive_path,
                    ),
                ),
                ("size_bytes", models.PositiveBigIntegerField(default=0)),
                ("made_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["-asked_at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Piece",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("title", models.CharField(max_length=160)),
                ("width_mm", models.FloatField()),
                (
                    "height_mm",
                    models.FloatField(help_text="Of the picture, seen from the front."),
                ),
                (
                    "glass",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to="studio.glass"
                    ),
                ),
                ("is_dammed", models.BooleanField(default=True)),
                (
                    "maker",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "maquette_of",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="maquettes",
                        to="studio.piece",
                    ),
                ),
                ("note", models.TextField(blank=True)),
                (
                    "due_date",
                    models.DateField(
                        blank=True,
                        help_text="The day it is promised for, told by whoever promises.",
                        null=True,
                    ),
                ),
                ("created_at", models.DateTimeField()),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("height_mm__gt", 0), ("width_mm__gt", 0)),
                        name="piece_size_positive",
                        violation_error_message="Width and height must be above zero.",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("maquette_of__isnull", True),
                            models.Q(("maquette_of", models.F("pk")), _negated=True),
                            _connector="OR",
                        ),
                        name="piece_not_its_own_maquette",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="HistoryEntry",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("what", models.CharField(max_length=400)),
                (
                    "piece",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="history",
                        to="studio.piece",
                    ),
                ),
                (
                    "subject",
                    models.CharField(
                        blank=True,
                        help_text='Kind and id, such as "kiln 3".',
                        max_length=60,
                    ),
                ),
                ("is_about_money", models.BooleanField(default=False)),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "indexes": [
                    models.Index(fields=["studio", "-at"], name="history_by_time")
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PieceEvent",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="events",
                        to="studio.piece",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("stack checked", "Stack checked"),
                            ("into kiln", "Into the kiln"),
                            ("out of kiln", "Out of the kiln"),
                            ("finished", "Finished"),
                            ("lost", "Lost"),
                        ],
                        max_length=16,
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("note", models.TextField(blank=True)),
                ("measured_height_mm", models.FloatField(blank=True, null=True)),
                (
                    "outcome",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("fine", "Fine"),
                            ("redo", "Fire again"),
                            ("cracked", "Cracked"),
                        ],
                        max_length=8,
                    ),
                ),
                ("firing_kind", models.CharField(blank=True, max_length=16)),
                ("closed_until", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "stack checked"), _negated=True),
                            models.Q(
                                ("measured_height_mm__gt", 0),
                                ("measured_height_mm__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="stack_check_has_height",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "out of kiln"), _negated=True),
                            models.Q(("outcome", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="out_of_kiln_has_outcome",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Layer",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="layers",
                        to="studio.piece",
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                (
                    "technique",
                    models.CharField(
                        choices=[
                            ("painted", "Painted"),
                            ("decal", "Decal"),
                            ("clear", "Clear (cap)"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "glass",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to="studio.glass"
                    ),
                ),
                ("planned_passes", models.PositiveSmallIntegerField(default=1)),
                ("title", models.CharField(blank=True, max_length=120)),
            ],
            options={
                "ordering": ["number", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("piece", "number"), name="layer_number_once_per_piece"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("number__gte", 1)),
                        name="layer_number_from_one",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("planned_passes", 0), ("technique", "clear")),
                            models.Q(
                                models.Q(("technique", "clear"), _negated=True),
                                ("planned_passes__gte", 1),
                            ),
                            _connector="OR",
                        ),
                        name="clear_layers_have_no_passes",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Sheet",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "layer",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sheets",
                        to="studio.layer",
                    ),
                ),
                ("attempt", models.PositiveSmallIntegerField(default=1)),
                ("made_at", models.DateTimeField()),
                ("set_aside_at", models.DateTimeField(blank=True, null=True)),
                ("set_aside_reason", models.CharField(blank=True, max_length=200)),
            ],
            options={
                "ordering": ["attempt", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("layer", "attempt"), name="sheet_attempt_once_per_layer"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("set_aside_at__isnull", True)),
                        fields=("layer",),
                        name="one_sheet_in_use_per_layer",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Pass",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "sheet",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="passes",
                        to="studio.sheet",
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                (
                    "is_repeat",
                    models.BooleanField(
                        default=False,
                        help_text="Added because an earlier pass must be fired again.",
                    ),
                ),
                ("painted_at", models.DateTimeField(blank=True, null=True)),
                (
                    "painted_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("minutes", models.PositiveIntegerField(blank=True, null=True)),
                (
                    "material",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="studio.material",
                    ),
                ),
                ("note", models.TextField(blank=True)),
                ("fired_at", models.DateTimeField(blank=True, null=True)),
                (
                    "outcome",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("fine", "Fine"),
                            ("redo", "Fire again"),
                            ("cracked", "Cracked"),
                        ],
                        max_length=8,
                    ),
                ),
                (
                    "outcome_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("outcome_note", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["number", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("sheet", "number"), name="pass_number_once_per_sheet"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("fired_at__isnull", True), ("outcome", "")),
                            models.Q(
                                ("fired_at__isnull", False),
                                ("painted_at__isnull", False),
                                models.Q(("outcome", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="pass_painted_before_fired",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Picture",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True,
                        primary_key=True,
                        serialize=False,
                        verbose_name="ID",
                    ),
                ),
                (
                    "studio",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.studio",
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="pictures",
                        to="studio.piece",
                    ),
                ),
                (
                    "layer",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="pictures",
                        to="studio.layer",
                    ),
                ),
                (
                    "of_pass",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="pictures",
                        to="studio.pass",
                    ),
                ),
                (
                    "image",
                    models.FileField(upload_to=studio.models.picture.picture_path),
                ),
                (
                    "thumbnail",
                    models.FileField(upload_to=studio.models.picture.picture_path),
                ),
                ("width_px", models.PositiveIntegerField()),
                ("height_px", models.PositiveIntegerField()),
                ("caption", models.CharField(blank=True, max_length=200)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("is_shown_to_client", models.BooleanField(default=False)),
            ],
            options={
                "ordering": ["at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
    ]
