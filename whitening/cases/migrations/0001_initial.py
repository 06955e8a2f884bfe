import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("clinic_accounts", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_diary", "0002_initial"),
        ("clinic_patients", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Case",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "wishes",
                    models.TextField(max_length=2000, verbose_name="in their words: what would they like to change?"),
                ),
                ("expected_cycles", models.PositiveSmallIntegerField(default=4)),
                ("opened_at", models.DateTimeField()),
                ("deferred_until", models.DateField(blank=True, null=True, verbose_name="put off until")),
                ("deferred_because", models.CharField(blank=True, max_length=300, verbose_name="why")),
                ("deferred_by", models.CharField(blank=True, max_length=120)),
                (
                    "colour_reminder",
                    models.BooleanField(
                        default=False, verbose_name="remind me in about a year about the colour of my teeth"
                    ),
                ),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closed_by", models.CharField(blank=True, max_length=120)),
                (
                    "close_reason",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("finished", "finished"),
                            ("patient_ended", "patient ended it"),
                            ("patient_decided_against", "patient decided against"),
                            ("practice_decided_against", "practice decided against"),
                            ("not_suitable", "not suitable"),
                            ("not_reached", "not reached after three tries"),
                            ("moved_away", "moved away"),
                            ("died", "died"),
                        ],
                        max_length=24,
                    ),
                ),
                ("close_words", models.CharField(blank=True, max_length=500)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cases", to="clinic_patients.patient"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="cases", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["-opened_at", "-pk"],
                "indexes": [models.Index(fields=["site", "closed_at"], name="case_by_site_open")],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at", None)), fields=("patient",), name="case_one_open_per_patient"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("close_reason", ""), ("closed_at", None)),
                            models.Q(("closed_at__isnull", False), models.Q(("close_reason", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="case_closed_with_a_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("deferred_because", ""), ("deferred_by", ""), ("deferred_until", None)),
                            models.Q(
                                ("deferred_until__isnull", False),
                                models.Q(("deferred_because", ""), _negated=True),
                                models.Q(("deferred_by", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="case_put_off_with_a_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("expected_cycles__gte", 1), ("expected_cycles__lte", 6)),
                        name="case_expected_cycles_1_to_6",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CaseVisit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("consultation", "consultation"),
                            ("session", "whitening session"),
                            ("review", "month review"),
                            ("problem", "problem visit"),
                            ("cleaning", "scale and polish"),
                            ("impressions", "impressions or scan"),
                            ("fitting", "tray fitting"),
                        ],
                        max_length=12,
                    ),
                ),
                ("session_number", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "booking",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="case_visit",
                        to="clinic_diary.booking",
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="visits", to="whitening_cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["booking__starts_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "purpose__in",
                                ["consultation", "session", "review", "problem", "cleaning", "impressions", "fitting"],
                            )
                        ),
                        name="case_visit_purpose",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("purpose", "session"), ("session_number__gte", 1)),
                            models.Q(models.Q(("purpose", "session"), _negated=True), ("session_number", None)),
                            _connector="OR",
                        ),
                        name="case_visit_session_number",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Price",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120, verbose_name="what is charged for")),
                ("sessions", models.PositiveSmallIntegerField(default=1, verbose_name="sessions")),
                ("amount", models.DecimalField(decimal_places=2, max_digits=9, verbose_name="amount")),
                ("active", models.BooleanField(default=True, verbose_name="in use")),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="prices", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["site", "sessions", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("site", "name"), name="price_name_once"),
                    models.CheckConstraint(condition=models.Q(("amount__gte", 0)), name="price_not_negative"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Product",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120, unique=True, verbose_name="name")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("gel", "whitening gel"),
                            ("barrier", "gum barrier"),
                            ("desensitiser", "desensitiser"),
                        ],
                        max_length=12,
                        verbose_name="kind",
                    ),
                ),
                (
                    "peroxide",
                    models.CharField(
                        choices=[
                            ("hydrogen", "hydrogen peroxide"),
                            ("carbamide", "carbamide peroxide"),
                            ("none", "no peroxide"),
                        ],
                        max_length=10,
                        verbose_name="peroxide",
                    ),
                ),
                (
                    "label_percent",
                    models.DecimalField(
                        blank=True, decimal_places=2, max_digits=5, null=True, verbose_name="% on the label"
                    ),
                ),
                (
                    "label_basis",
                    models.CharField(
                        choices=[
                            ("as_used", "as used, ready or after mixing"),
                            ("before_mixing", "before mixing"),
                            ("none", "no peroxide"),
                        ],
                        max_length=16,
                        verbose_name="the label's % is",
                    ),
                ),
                (
                    "hp_percent_as_used",
                    models.DecimalField(
                        blank=True,
                        decimal_places=2,
                        max_digits=5,
                        null=True,
                        verbose_name="hydrogen peroxide as used, % w/w",
                    ),
                ),
                ("needs_mixing", models.BooleanField(default=False, verbose_name="is mixed at the chair")),
                (
                    "mix_parts",
                    models.DecimalField(
                        blank=True, decimal_places=2, max_digits=6, null=True, verbose_name="parts of the peroxide"
                    ),
                ),
                (
                    "mix_other_parts",
                    models.DecimalField(
                        blank=True, decimal_places=2, max_digits=6, null=True, verbose_name="parts of what is mixed in"
                    ),
                ),
                (
                    "mix_density_g_ml",
                    models.DecimalField(
                        blank=True,
                        decimal_places=3,
                        max_digits=5,
                        null=True,
                        verbose_name="density of the peroxide part, g/mL",
                    ),
                ),
                (
                    "mix_other_density_g_ml",
                    models.DecimalField(
                        blank=True,
                        decimal_places=3,
                        max_digits=5,
                        null=True,
                        verbose_name="density of what is mixed in, g/mL",
                    ),
                ),
                (
                    "mix_life_minutes",
                    models.PositiveSmallIntegerField(
                        blank=True, null=True, verbose_name="use within, minutes after mixing"
                    ),
                ),
                (
                    "cycle_minutes_most",
                    models.PositiveSmallIntegerField(
                        blank=True, null=True, verbose_name="longest time on the teeth, minutes"
                    ),
                ),
                (
                    "cycles_most",
                    models.PositiveSmallIntegerField(blank=True, null=True, verbose_name="most cycles in one session"),
                ),
                ("light_allowed", models.BooleanField(default=False, verbose_name="the maker allows a light")),
                (
                    "instructions_revision",
                    models.CharField(blank=True, max_length=60, verbose_name="maker's instructions, revision"),
                ),
                ("active", models.BooleanField(default=True, verbose_name="in use")),
                ("version", models.PositiveIntegerField(default=1)),
            ],
            options={
                "ordering": ["kind", "name", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "gel"), _negated=True),
                            models.Q(
                                ("cycle_minutes_most__gte", 1), ("cycles_most__gte", 1), ("hp_percent_as_used__gt", 0)
                            ),
                            _connector="OR",
                        ),
                        name="product_gel_is_complete",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("needs_mixing", False), ("mix_life_minutes__gte", 1), _connector="OR"),
                        name="product_mix_has_a_life",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("label_basis", "before_mixing"), _negated=True),
                            models.Q(("mix_other_parts__gte", 0), ("mix_parts__gt", 0), ("needs_mixing", True)),
                            _connector="OR",
                        ),
                        name="product_mix_has_its_parts",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Plan",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("version", models.PositiveSmallIntegerField()),
                ("upper_arch", models.BooleanField(verbose_name="upper arch")),
                ("lower_arch", models.BooleanField(verbose_name="lower arch")),
                ("teeth_left_out", models.JSONField(blank=True, default=list, verbose_name="teeth left out")),
                ("sessions", models.PositiveSmallIntegerField(verbose_name="sessions")),
                ("cycles_per_session", models.PositiveSmallIntegerField(verbose_name="cycles in a session")),
                ("minutes_per_cycle", models.PositiveSmallIntegerField(verbose_name="minutes in a cycle")),
                ("least_days_between", models.PositiveSmallIntegerField(verbose_name="least days between sessions")),
                (
                    "strength_hp_percent",
                    models.DecimalField(
                        decimal_places=2, max_digits=5, verbose_name="hydrogen peroxide as used, % w/w"
                    ),
                ),
                (
                    "light",
                    models.CharField(
                        choices=[
                            ("none", "no light"),
                            ("hand_held", "hand-held light, tooth by tooth"),
                            ("arch", "arch light"),
                        ],
                        max_length=12,
                        verbose_name="light",
                    ),
                ),
                (
                    "isolation",
                    models.CharField(
                        choices=[
                            ("resin_barrier", "light-cured gum barrier"),
                            ("resin_free", "isolation without resin"),
                        ],
                        default="resin_barrier",
                        max_length=16,
                        verbose_name="isolation",
                    ),
                ),
                ("fee", models.DecimalField(decimal_places=2, max_digits=9, verbose_name="fee")),
                ("currency", models.CharField(max_length=3)),
                (
                    "expectation",
                    models.CharField(blank=True, max_length=500, verbose_name="what was said about the likely result"),
                ),
                ("jurisdiction", models.CharField(max_length=16)),
                ("local_rule_version", models.CharField(max_length=20)),
                ("planned_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="plans", to="whitening_cases.case"
                    ),
                ),
                (
                    "planned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "prescribed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "product",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="whitening_cases.product"
                    ),
                ),
            ],
            options={
                "ordering": ["case", "-version"],
                "constraints": [
                    models.UniqueConstraint(fields=("case", "version"), name="plan_version_once"),
                    models.CheckConstraint(
                        condition=models.Q(("upper_arch", True), ("lower_arch", True), _connector="OR"),
                        name="plan_at_least_one_arch",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("cycles_per_session__gte", 1), ("cycles_per_session__lte", 6)),
                        name="plan_cycles_1_to_6",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sessions__gte", 1), ("sessions__lte", 6)), name="plan_sessions_1_to_6"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("strength_hp_percent__gt", 0), ("strength_hp_percent__lte", 50)),
                        name="plan_strength_0_to_50",
                    ),
                    models.CheckConstraint(condition=models.Q(("fee__gte", 0)), name="plan_fee_not_negative"),
                    models.CheckConstraint(
                        condition=models.Q(("minutes_per_cycle__gte", 1)), name="plan_minutes_at_least_1"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ShadeReading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "moment",
                    models.CharField(
                        choices=[
                            ("examination", "at the examination"),
                            ("start", "before a session"),
                            ("finish", "after a session"),
                            ("review", "at the review"),
                        ],
                        max_length=12,
                    ),
                ),
                ("guide", models.CharField(max_length=24)),
                ("tab", models.CharField(max_length=8)),
                ("provisional", models.BooleanField()),
                ("read_at", models.DateTimeField()),
                ("read_by", models.CharField(max_length=120)),
                ("session_number", models.PositiveSmallIntegerField(blank=True, null=True)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="shades", to="whitening_cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["read_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("moment__in", ["examination", "start", "finish", "review"])),
                        name="shade_moment_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("moment", "finish"), _negated=True), ("provisional", True), _connector="OR"
                        ),
                        name="shade_finish_provisional",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="CaseInvitation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("consultation", "consultation"),
                            ("session", "whitening session"),
                            ("review", "month review"),
                            ("problem", "problem visit"),
                            ("cleaning", "scale and polish"),
                            ("impressions", "impressions or scan"),
                            ("fitting", "tray fitting"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invitations",
                        to="whitening_cases.case",
                    ),
                ),
                (
                    "invitation",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="case_invitation",
                        to="clinic_diary.timeinvitation",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "purpose__in",
                                ["consultation", "session", "review", "problem", "cleaning", "impressions", "fitting"],
                            )
                        ),
                        name="case_invitation_purpose",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="ShadeCorrection",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("corrected_at", models.DateTimeField()),
                ("corrected_by", models.CharField(max_length=120)),
                (
                    "reading",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="correction",
                        to="whitening_cases.shadereading",
                    ),
                ),
            ],
        ),
    ]
