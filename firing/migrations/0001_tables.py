import django.contrib.postgres.fields.ranges
import django.contrib.postgres.operations
import django.db.models.deletion
import django.db.models.manager
import firing.models.booking
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    # Made of the steps of the first weeks; whoever has taken them all has these tables.
    replaces = [
        ("firing", "0001_initial"),
        ("firing", "0002_limits"),
        ("firing", "0003_plans"),
        ("firing", "0004_plan_holds"),
        ("firing", "0005_kiln_comparisons"),
        ("firing", "0006_kiln_loggers"),
        ("firing", "0007_clear_contradictions"),
        ("firing", "0008_constraints_and_indexes"),
    ]

    initial = True

    dependencies = [
        ("studio", "0001_tables"),
    ]

    operations = [
        django.contrib.postgres.operations.BtreeGistExtension(),
        migrations.CreateModel(
            name="Booking",
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
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="bookings",
                        to="studio.kiln",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("firing", "Firing"),
                            ("rental", "Rented out"),
                            ("maintenance", "Maintenance"),
                        ],
                        default="firing",
                        max_length=12,
                    ),
                ),
                ("title", models.CharField(max_length=200)),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("is_provisional", models.BooleanField(default=False)),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                ("cancelled_reason", models.CharField(blank=True, max_length=200)),
                (
                    "planned_curve",
                    models.JSONField(
                        default=list,
                        help_text="[[seconds from the start, °C], ...] as planned.",
                    ),
                ),
                ("booked_at", models.DateTimeField()),
                (
                    "booked_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["starts_at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "indexes": [
                    models.Index(
                        fields=["kiln", "starts_at"], name="booking_by_kiln_time"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("starts_at__lt", models.F("ends_at"))),
                        name="booking_start_before_end",
                    ),
                    firing.models.booking.KilnTimeExclusion(
                        condition=models.Q(("cancelled_at__isnull", True)),
                        expressions=[
                            (
                                models.Func(
                                    models.F("starts_at"),
                                    models.F("ends_at"),
                                    django.contrib.postgres.fields.ranges.RangeBoundary(),
                                    function="tstzrange",
                                    output_field=django.contrib.postgres.fields.ranges.DateTimeRangeField(),
                                ),
                                "&&",
                            ),
                            ("kiln", "="),
                        ],
                        name="one_booking_at_a_time_per_kiln",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="KilnComparison",
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
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="comparisons",
                        to="studio.kiln",
                    ),
                ),
                ("compared_on", models.DateField()),
                ("shown_c", models.FloatField()),
                ("measured_c", models.FloatField()),
                (
                    "error_k",
                    models.FloatField(
                        help_text="How far the measurement may be off, either way, in kelvin."
                    ),
                ),
                (
                    "compared_by",
                    models.CharField(
                        choices=[
                            ("thermocouple", "A second thermocouple beside the glass"),
                            ("cones", "Cones or bars that bend"),
                            ("other", "Something else"),
                        ],
                        max_length=16,
                    ),
                ),
                ("note", models.CharField(blank=True, max_length=200)),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-compared_on", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("error_k__gte", 0.5),
                            ("error_k__lte", 40),
                            ("measured_c__gte", 140),
                            ("measured_c__lte", 1700),
                            ("shown_c__gte", 200),
                            ("shown_c__lte", 1700),
                        ),
                        name="kiln_comparison_in_reach",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Schedule",
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
                ("name", models.CharField(max_length=160)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("enamel", "Enamel firing"),
                            ("tack fuse", "Tack fuse"),
                            ("full fuse", "Full fuse and anneal"),
                            ("slump", "Slump"),
                            ("re-anneal", "Re-anneal"),
                            ("test", "Test firing"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="schedules",
                        to="studio.piece",
                    ),
                ),
                (
                    "kiln",
                    models.ForeignKey(
                        blank=True,
                        help_text="The controller whose limits it was fitted to.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="studio.kiln",
                    ),
                ),
                (
                    "glass",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to="studio.glass"
                    ),
                ),
                ("thickness_mm", models.FloatField()),
                (
                    "rule",
                    models.CharField(
                        choices=[
                            ("next row", "The table's next thicker row"),
                            ("row", "The table's row at or above the thickness"),
                            ("exact", "The rule of thumb at the very thickness"),
                            ("computed", "Computed from heat and stress"),
                            ("standard", "The studio's standing programme"),
                        ],
                        max_length=16,
                    ),
                ),
                ("start_c", models.FloatField(default=20.0)),
                (
                    "basis",
                    models.JSONField(
                        default=dict,
                        help_text="The numbers the computation used, by name with unit.",
                    ),
                ),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("piece__isnull", False)),
                        fields=("piece", "kind", "version"),
                        name="schedule_version_once_per_piece",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("piece__isnull", True)),
                        fields=("glass", "kiln", "kind", "version"),
                        name="standing_schedule_version_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("thickness_mm__gt", 0), ("version__gte", 1)
                        ),
                        name="schedule_numbers_positive",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="StressLimits",
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
                    "temporary_mpa",
                    models.FloatField(help_text="While heating and cooling."),
                ),
                (
                    "residual_mpa",
                    models.FloatField(help_text="What stays in the cold glass."),
                ),
                (
                    "warning_mpa",
                    models.FloatField(help_text="From here on it may have cracked."),
                ),
            ],
            options={
                "verbose_name": "the limits of tension",
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio",), name="limits_once_per_studio"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("residual_mpa__gt", 0),
                            ("residual_mpa__lte", models.F("temporary_mpa")),
                            ("temporary_mpa__lte", models.F("warning_mpa")),
                        ),
                        name="limits_in_order",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="KilnLogger",
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
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="loggers",
                        to="studio.kiln",
                    ),
                ),
                ("name", models.CharField(max_length=80)),
                ("nonce", models.CharField(max_length=44, unique=True)),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("heard_at", models.DateTimeField(blank=True, null=True)),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("nonce", ""), _negated=True),
                            models.Q(("name", ""), _negated=True),
                        ),
                        name="kiln_logger_is_named",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Plan",
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
                ("number", models.PositiveIntegerField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("making", "Being made"),
                            ("ready", "Ready, not taken yet"),
                            ("accepted", "Accepted"),
                            ("superseded", "Replaced by a newer plan"),
                            ("refused", "Not taken"),
                            ("failed", "Could not be made"),
                        ],
                        default="making",
                        max_length=12,
                    ),
                ),
                (
                    "wish",
                    models.CharField(
                        choices=[
                            ("new", "Plan everything"),
                            ("again", "Plan again, moving as little as possible"),
                        ],
                        default="new",
                        max_length=8,
                    ),
                ),
                (
                    "why",
                    models.JSONField(
                        default=list,
                        help_text="Sentences: what happened that asked for it.",
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
                    "based_on",
                    models.ForeignKey(
                        blank=True,
                        help_text="The plan that stood when this one was computed.",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="firing.plan",
                    ),
                ),
                (
                    "facts",
                    models.JSONField(
                        default=dict,
                        help_text="The rows it was computed from, by name.",
                    ),
                ),
                ("facts_sha256", models.CharField(blank=True, max_length=64)),
                ("seed", models.PositiveIntegerField(default=1)),
                ("units", models.PositiveBigIntegerField(default=0)),
                ("tries", models.PositiveIntegerField(default=0)),
                ("options", models.JSONField(default=list)),
                ("least_days_late", models.PositiveIntegerField(default=0)),
                ("least_kwh", models.FloatField(default=0)),
                ("is_proved_best", models.BooleanField(default=False)),
                ("was_stopped", models.BooleanField(default=False)),
                ("stop_asked_at", models.DateTimeField(blank=True, null=True)),
                ("left_out", models.JSONField(default=list)),
                ("assumptions", models.JSONField(default=list)),
                ("made_at", models.DateTimeField(blank=True, null=True)),
                (
                    "closed_at",
                    models.DateTimeField(
                        blank=True,
                        help_text="When it was accepted or refused.",
                        null=True,
                    ),
                ),
                (
                    "closed_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "taken",
                    models.CharField(
                        blank=True,
                        help_text="Which option was accepted.",
                        max_length=16,
                    ),
                ),
                (
                    "holds",
                    models.BooleanField(
                        default=True,
                        help_text="Whether the standing plan could be kept when last seen.",
                    ),
                ),
                (
                    "troubles",
                    models.JSONField(
                        default=list,
                        help_text="Sentences: what happened since, why it does not hold.",
                    ),
                ),
                ("troubles_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "ordering": ["-number"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("studio", "number"), name="plan_number_once_per_studio"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("state", "accepted")),
                        fields=("studio",),
                        name="one_accepted_plan_per_studio",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="ScheduleSegment",
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
                    "schedule",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="segments",
                        to="firing.schedule",
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("label", models.CharField(max_length=60)),
                (
                    "rate_c_per_h",
                    models.FloatField(
                        blank=True,
                        help_text="Empty: as fast as the kiln can.",
                        null=True,
                    ),
                ),
                ("target_c", models.FloatField()),
                ("hold_s", models.FloatField(default=0.0)),
            ],
            options={
                "ordering": ["number", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("schedule", "number"), name="segment_number_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("hold_s__gte", 0),
                            models.Q(
                                ("rate_c_per_h__isnull", True),
                                ("rate_c_per_h__gt", 0),
                                _connector="OR",
                            ),
                        ),
                        name="segment_numbers_sensible",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Firing",
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
                    "kind",
                    models.CharField(
                        choices=[
                            ("enamel", "Enamel firing"),
                            ("tack fuse", "Tack fuse"),
                            ("full fuse", "Full fuse and anneal"),
                            ("slump", "Slump"),
                            ("re-anneal", "Re-anneal"),
                            ("test", "Test firing"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "kiln",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="firings",
                        to="studio.kiln",
                    ),
                ),
                (
                    "booking",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="firing",
                        to="firing.booking",
                    ),
                ),
                (
                    "schedule",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="firings",
                        to="firing.schedule",
                    ),
                ),
                ("made_at", models.DateTimeField()),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("started_at", models.DateTimeField(blank=True, null=True)),
                (
                    "started_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "finished_at",
                    models.DateTimeField(
                        blank=True,
                        help_text="When it was opened and unloaded.",
                        null=True,
                    ),
                ),
                (
                    "finished_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("cancelled_at", models.DateTimeField(blank=True, null=True)),
                ("note", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("finished_at__isnull", True),
                            ("started_at__isnull", False),
                            _connector="OR",
                        ),
                        name="firing_started_before_finished",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("cancelled_at__isnull", True),
                            ("started_at__isnull", True),
                            _connector="OR",
                        ),
                        name="firing_cancelled_only_before_start",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(
                            ("finished_at__isnull", True), ("started_at__isnull", False)
                        ),
                        fields=("kiln",),
                        name="one_running_firing_per_kiln",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PlannedFiring",
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
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="planned_firings",
                        to="firing.plan",
                    ),
                ),
                (
                    "booking",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="planned_firing",
                        to="firing.booking",
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("enamel", "Enamel firing"),
                            ("tack fuse", "Tack fuse"),
                            ("full fuse", "Full fuse and anneal"),
                            ("slump", "Slump"),
                            ("re-anneal", "Re-anneal"),
                            ("test", "Test firing"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "unload_at",
                    models.DateTimeField(help_text="When somebody is in to open it."),
                ),
            ],
            options={
                "ordering": ["booking__starts_at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PlannedWork",
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
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="planned_work",
                        to="firing.plan",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.piece",
                    ),
                ),
                (
                    "task",
                    models.CharField(
                        choices=[
                            ("paint", "Paint"),
                            ("assembly", "Stack"),
                            ("coldwork", "Coldwork"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "layer",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.layer",
                    ),
                ),
                ("attempt", models.PositiveSmallIntegerField(default=0)),
                ("number", models.PositiveSmallIntegerField(default=0)),
                (
                    "of_pass",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.pass",
                    ),
                ),
                ("segments", models.JSONField(default=list)),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["starts_at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("task__in", ["paint", "assembly", "coldwork"])
                        ),
                        name="planned_work_is_a_task",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="LoadItem",
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
                    "firing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="items",
                        to="firing.firing",
                    ),
                ),
                (
                    "of_pass",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="load_items",
                        to="studio.pass",
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="load_items",
                        to="studio.piece",
                    ),
                ),
                (
                    "description",
                    models.CharField(
                        blank=True,
                        help_text="Another maker's work, in words.",
                        max_length=160,
                    ),
                ),
                ("x_mm", models.FloatField(blank=True, null=True)),
                ("y_mm", models.FloatField(blank=True, null=True)),
                ("is_turned", models.BooleanField(default=False)),
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
                ("outcome_note", models.TextField(blank=True)),
            ],
            options={
                "ordering": ["pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("description", ""),
                                ("of_pass__isnull", False),
                                ("piece__isnull", True),
                            ),
                            models.Q(
                                ("description", ""),
                                ("of_pass__isnull", True),
                                ("piece__isnull", False),
                            ),
                            models.Q(
                                ("of_pass__isnull", True),
                                ("piece__isnull", True),
                                models.Q(("description", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="load_item_is_one_thing",
                    ),
                    models.UniqueConstraint(
                        fields=("firing", "of_pass"), name="pass_once_per_load"
                    ),
                    models.UniqueConstraint(
                        fields=("firing", "piece"), name="piece_once_per_load"
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="ReadingImport",
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
                    "firing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="imports",
                        to="firing.firing",
                    ),
                ),
                ("file_name", models.CharField(max_length=200)),
                ("sha256", models.CharField(max_length=64)),
                ("row_count", models.PositiveIntegerField()),
                ("first_at", models.DateTimeField()),
                ("last_at", models.DateTimeField()),
                ("highest_c", models.FloatField()),
                (
                    "thin_curve",
                    models.JSONField(
                        default=list,
                        help_text="[[seconds from the first reading, °C], ...], thinned for drawings.",
                    ),
                ),
                ("description", models.CharField(blank=True, max_length=300)),
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
            ],
            options={
                "ordering": ["first_at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("firing", "sha256"), name="same_file_once_per_firing"
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Judgement",
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
                    "firing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="judgements",
                        to="firing.firing",
                    ),
                ),
                ("inputs_sha256", models.CharField(max_length=64)),
                (
                    "verdict",
                    models.CharField(
                        help_text="The judge's verdict, or why there is none.",
                        max_length=48,
                    ),
                ),
                (
                    "numbers",
                    models.JSONField(
                        default=dict,
                        help_text="Bands, holds, rates, faults; options, null until somebody wants to know; unit in the name.",
                    ),
                ),
                (
                    "trace",
                    models.JSONField(
                        default=dict,
                        help_text="Seconds since the booking's start, °C and MPa, at most 600 points.",
                    ),
                ),
                (
                    "made_at",
                    models.DateTimeField(help_text="When its readings were read."),
                ),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("firing", "inputs_sha256"),
                        name="judged_once_per_inputs",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PlannedItem",
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
                    "firing",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="items",
                        to="firing.plannedfiring",
                    ),
                ),
                (
                    "piece",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.piece",
                    ),
                ),
                (
                    "layer",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.layer",
                    ),
                ),
                ("attempt", models.PositiveSmallIntegerField(default=0)),
                ("number", models.PositiveSmallIntegerField(default=0)),
                (
                    "of_pass",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="studio.pass",
                    ),
                ),
                ("x_mm", models.FloatField(default=0)),
                ("y_mm", models.FloatField(default=0)),
                ("is_turned", models.BooleanField(default=False)),
            ],
            options={
                "ordering": ["pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("attempt", 0),
                                ("layer__isnull", True),
                                ("number", 0),
                                ("of_pass__isnull", True),
                            ),
                            models.Q(
                                ("attempt__gte", 1),
                                ("layer__isnull", False),
                                ("number__gte", 1),
                            ),
                            _connector="OR",
                        ),
                        name="planned_item_is_one_thing",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Reading",
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
                (
                    "firing",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="readings",
                        to="firing.firing",
                    ),
                ),
                (
                    "source",
                    models.ForeignKey(
                        blank=True,
                        help_text="Empty: pushed one by one by a logger.",
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="readings",
                        to="firing.readingimport",
                    ),
                ),
                ("at", models.DateTimeField()),
                ("temperature_c", models.FloatField()),
            ],
            options={
                "ordering": ["at", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "indexes": [
                    models.Index(fields=["firing", "at"], name="reading_by_time")
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
    ]
