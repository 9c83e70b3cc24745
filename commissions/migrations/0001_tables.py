import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    # Made of the steps of the first weeks; whoever has taken them all has these tables.
    replaces = [
        ("commissions", "0001_initial"),
        ("commissions", "0002_promise_checks"),
        ("commissions", "0003_minutes_to_the_studio"),
        ("commissions", "0004_price_book_without_minutes"),
        ("commissions", "0005_due_dates_of_pieces"),
    ]

    initial = True

    dependencies = [
        ("firing", "0001_tables"),
        ("studio", "0001_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="Client",
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
                (
                    "email",
                    models.EmailField(
                        blank=True, max_length=254, verbose_name="e-mail address"
                    ),
                ),
                ("phone", models.CharField(blank=True, max_length=40)),
                ("address", models.TextField(blank=True)),
                ("note", models.TextField(blank=True)),
                ("created_at", models.DateTimeField()),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PriceBook",
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
                    "labour_rate_per_hour",
                    models.DecimalField(decimal_places=4, default=35, max_digits=14),
                ),
                (
                    "energy_price_per_kwh",
                    models.DecimalField(
                        decimal_places=4, default="0.25", max_digits=14
                    ),
                ),
                (
                    "waste_percent",
                    models.DecimalField(decimal_places=2, default=10, max_digits=5),
                ),
                (
                    "overhead_percent",
                    models.DecimalField(decimal_places=2, default=20, max_digits=5),
                ),
                (
                    "remake_percent",
                    models.DecimalField(decimal_places=2, default=10, max_digits=5),
                ),
                (
                    "margin_percent",
                    models.DecimalField(decimal_places=2, default=20, max_digits=5),
                ),
                ("tax_name", models.CharField(default="Sales tax", max_length=40)),
                (
                    "tax_percent",
                    models.DecimalField(decimal_places=2, default=0, max_digits=5),
                ),
                (
                    "deposit_percent",
                    models.DecimalField(decimal_places=2, default=40, max_digits=5),
                ),
                (
                    "stage_percent",
                    models.DecimalField(decimal_places=2, default=30, max_digits=5),
                ),
                ("quote_valid_days", models.PositiveSmallIntegerField(default=30)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(fields=("studio",), name="one_price_book"),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("deposit_percent__gte", 0),
                            ("energy_price_per_kwh__gte", 0),
                            ("labour_rate_per_hour__gte", 0),
                            ("margin_percent__gte", 0),
                            ("overhead_percent__gte", 0),
                            ("remake_percent__gte", 0),
                            ("stage_percent__gte", 0),
                            ("tax_percent__gte", 0),
                            ("waste_percent__gte", 0),
                        ),
                        name="price_book_not_negative",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Commission",
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
                    "client",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="commissions",
                        to="commissions.client",
                    ),
                ),
                ("title", models.CharField(max_length=160)),
                ("brief", models.TextField(blank=True)),
                (
                    "reference",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="studio.picture",
                    ),
                ),
                ("width_mm", models.FloatField()),
                ("height_mm", models.FloatField()),
                (
                    "layer_count",
                    models.PositiveSmallIntegerField(help_text="All sheets, caps too."),
                ),
                ("cap_count", models.PositiveSmallIntegerField(default=1)),
                (
                    "technique",
                    models.CharField(
                        choices=[("painted", "Painted"), ("decal", "Decal")],
                        default="painted",
                        max_length=8,
                    ),
                ),
                ("passes_per_layer", models.PositiveSmallIntegerField(default=1)),
                ("painting_minutes_per_pass", models.PositiveIntegerField()),
                (
                    "glass",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, to="studio.glass"
                    ),
                ),
                ("is_dammed", models.BooleanField(default=True)),
                (
                    "maquette_layer_count",
                    models.PositiveSmallIntegerField(
                        default=0, help_text="0: no maquette."
                    ),
                ),
                ("maquette_width_mm", models.FloatField(blank=True, null=True)),
                ("maquette_height_mm", models.FloatField(blank=True, null=True)),
                (
                    "gallery_cut_percent",
                    models.DecimalField(decimal_places=2, default=0, max_digits=5),
                ),
                ("wanted_by_date", models.DateField(blank=True, null=True)),
                ("created_at", models.DateTimeField()),
                (
                    "created_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closed_reason", models.CharField(blank=True, max_length=200)),
                (
                    "request_key",
                    models.CharField(
                        blank=True,
                        help_text="Of the form it came by: a form pressed twice makes one commission.",
                        max_length=36,
                    ),
                ),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("request_key", ""), _negated=True),
                        fields=("studio", "request_key"),
                        name="commission_once_per_form",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("height_mm__gt", 0), ("width_mm__gt", 0)),
                        name="commission_size_positive",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("layer_count__gte", 1),
                            ("layer_count__lte", 60),
                            ("cap_count__lte", models.F("layer_count")),
                            ("passes_per_layer__gte", 1),
                            ("passes_per_layer__lte", 12),
                        ),
                        name="commission_stack_sensible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("gallery_cut_percent__gte", 0),
                            ("gallery_cut_percent__lt", 100),
                        ),
                        name="commission_gallery_cut_sensible",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("maquette_layer_count", 0),
                            models.Q(
                                ("maquette_height_mm__gt", 0),
                                ("maquette_width_mm__gt", 0),
                            ),
                            _connector="OR",
                        ),
                        name="commission_maquette_has_size",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="CommissionedPiece",
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
                    "commission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="commissioned_pieces",
                        to="commissions.commission",
                    ),
                ),
                (
                    "piece",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="studio.piece",
                    ),
                ),
                ("is_maquette", models.BooleanField(default=False)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("commission", "is_maquette"),
                        name="one_piece_one_maquette",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Payment",
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
                    "commission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="payments",
                        to="commissions.commission",
                    ),
                ),
                ("amount", models.DecimalField(decimal_places=4, max_digits=14)),
                ("currency", models.CharField(max_length=3)),
                ("received_date", models.DateField()),
                ("method", models.CharField(blank=True, max_length=60)),
                ("note", models.CharField(blank=True, max_length=200)),
                ("recorded_at", models.DateTimeField()),
                (
                    "recorded_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                ("taken_back_at", models.DateTimeField(blank=True, null=True)),
                ("taken_back_reason", models.CharField(blank=True, max_length=200)),
            ],
            options={
                "ordering": ["received_date", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("amount__gt", 0)),
                        name="payment_amount_positive",
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Quote",
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
                    "commission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="quotes",
                        to="commissions.commission",
                    ),
                ),
                ("version", models.PositiveSmallIntegerField()),
                ("currency", models.CharField(max_length=3)),
                ("net", models.DecimalField(decimal_places=4, max_digits=14)),
                ("tax", models.DecimalField(decimal_places=4, max_digits=14)),
                ("tax_name", models.CharField(max_length=40)),
                ("total", models.DecimalField(decimal_places=4, max_digits=14)),
                (
                    "inputs",
                    models.JSONField(
                        help_text="Every number that the price was made from."
                    ),
                ),
                ("promised_date", models.DateField(blank=True, null=True)),
                (
                    "promise_facts",
                    models.JSONField(
                        blank=True,
                        default=dict,
                        help_text="The studio's facts when the day was promised, by name.",
                    ),
                ),
                (
                    "agreed_date",
                    models.DateField(
                        blank=True,
                        help_text="Another day, agreed with the client after they accepted.",
                        null=True,
                    ),
                ),
                ("valid_until_date", models.DateField()),
                (
                    "shows_lines",
                    models.BooleanField(
                        default=False,
                        help_text="The client sees each line, not only what is made and the total.",
                    ),
                ),
                (
                    "message",
                    models.TextField(blank=True, help_text="Message to the client."),
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
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("accepted_at", models.DateTimeField(blank=True, null=True)),
                ("accepted_by_name", models.CharField(blank=True, max_length=160)),
                ("declined_at", models.DateTimeField(blank=True, null=True)),
                ("declined_reason", models.CharField(blank=True, max_length=400)),
            ],
            options={
                "ordering": ["-version", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("commission", "version"), name="quote_version_once"
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("accepted_at__isnull", False)),
                        fields=("commission",),
                        name="one_accepted_quote_per_commission",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("accepted_at__isnull", True),
                            models.Q(
                                ("declined_at__isnull", True),
                                ("sent_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="quote_sent_before_accepted",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("net__gte", 0), ("tax__gte", 0), ("total__gte", 0)
                        ),
                        name="quote_amounts_not_negative",
                    ),
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="ShareLink",
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
                    "commission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="share_links",
                        to="commissions.commission",
                    ),
                ),
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
                ("expires_at", models.DateTimeField()),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                ("last_opened_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Post",
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
                    "commission",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="posts",
                        to="commissions.commission",
                    ),
                ),
                ("text", models.TextField()),
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
                ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                (
                    "pictures",
                    models.ManyToManyField(
                        blank=True, related_name="+", to="studio.picture"
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="PromiseCheck",
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
                    "quote",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="promise_checks",
                        to="commissions.quote",
                    ),
                ),
                (
                    "why",
                    models.CharField(
                        choices=[
                            ("sent", "the quote was sent"),
                            ("changed", "what is asked for was changed"),
                            ("accepted", "the client accepted"),
                            ("asked", "somebody asked for it"),
                        ],
                        max_length=8,
                    ),
                ),
                ("asked_at", models.DateTimeField()),
                (
                    "job",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="studio.job",
                    ),
                ),
                ("made_at", models.DateTimeField(blank=True, null=True)),
                ("ready_date", models.DateField(blank=True, null=True)),
                ("date_80", models.DateField(blank=True, null=True)),
                ("date_95", models.DateField(blank=True, null=True)),
                (
                    "problem",
                    models.TextField(
                        blank=True, help_text="Why no date can be given, in words."
                    ),
                ),
                (
                    "changes",
                    models.JSONField(
                        default=list,
                        help_text="Sentences: what changed since the quote was made.",
                    ),
                ),
                (
                    "advice",
                    models.JSONField(
                        default=list,
                        help_text="Sentences: what would bring the day forward.",
                    ),
                ),
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
            name="QuoteLine",
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
                    "quote",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="lines",
                        to="commissions.quote",
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("section", models.CharField(max_length=40)),
                ("label", models.CharField(max_length=120)),
                ("explanation", models.TextField(blank=True)),
                ("quantity", models.DecimalField(decimal_places=4, max_digits=14)),
                ("unit", models.CharField(max_length=20)),
                ("unit_price", models.DecimalField(decimal_places=4, max_digits=14)),
                ("amount", models.DecimalField(decimal_places=4, max_digits=14)),
            ],
            options={
                "ordering": ["number", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("quote", "number"), name="quote_line_number_once"
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name="Instalment",
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
                    "quote",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="instalments",
                        to="commissions.quote",
                    ),
                ),
                ("number", models.PositiveSmallIntegerField()),
                ("label", models.CharField(max_length=60)),
                (
                    "due_on",
                    models.CharField(
                        choices=[
                            ("accepted", "when the quote is accepted"),
                            ("stacked", "before the stack goes into the kiln"),
                            (
                                "finished",
                                "when the piece is finished, before it leaves",
                            ),
                        ],
                        max_length=12,
                    ),
                ),
                ("percent", models.DecimalField(decimal_places=2, max_digits=5)),
                ("amount", models.DecimalField(decimal_places=4, max_digits=14)),
            ],
            options={
                "ordering": ["number", "pk"],
                "abstract": False,
                "base_manager_name": "across_studios",
                "default_manager_name": "across_studios",
                "constraints": [
                    models.UniqueConstraint(
                        fields=("quote", "number"), name="instalment_number_once"
                    )
                ],
            },
            managers=[
                ("across_studios", django.db.models.manager.Manager()),
            ],
        ),
    ]
