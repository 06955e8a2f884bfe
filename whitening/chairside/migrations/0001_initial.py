import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("clinic_accounts", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_diary", "0003_ranges"),
        ("whitening_cases", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Incident",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("seq", models.PositiveIntegerField()),
                (
                    "place",
                    models.CharField(
                        choices=[("gum", "Gum"), ("lip", "Lip"), ("skin", "Skin"), ("eye", "Eye")], max_length=8
                    ),
                ),
                ("happened_at", models.DateTimeField()),
                ("noted_by", models.CharField(max_length=120)),
            ],
            options={
                "ordering": ["happened_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Batch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.CharField(max_length=60, verbose_name="batch number")),
                ("expires_on", models.DateField(verbose_name="use until")),
                ("received_on", models.DateField(verbose_name="received on")),
                ("quantity_received", models.PositiveIntegerField(verbose_name="how many")),
                ("unit", models.CharField(max_length=40, verbose_name="of what")),
                (
                    "product",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batches",
                        to="whitening_cases.product",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="batches", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["expires_on", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("site", "product", "number"), name="batch_number_once"),
                    models.CheckConstraint(
                        condition=models.Q(("quantity_received__gte", 1)), name="batch_has_something"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("number", ""), _negated=True), name="batch_has_a_number"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="BatchHold",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("held_at", models.DateTimeField()),
                ("why", models.CharField(max_length=300, verbose_name="why")),
                ("released_at", models.DateTimeField(blank=True, null=True)),
                (
                    "released_because",
                    models.CharField(blank=True, max_length=300, verbose_name="why it may be used again"),
                ),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="holds",
                        to="whitening_chairside.batch",
                    ),
                ),
                (
                    "held_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "released_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-held_at", "-pk"],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("released_at", None)), fields=("batch",), name="batch_hold_one_at_a_time"
                    ),
                    models.CheckConstraint(condition=models.Q(("why", ""), _negated=True), name="batch_hold_says_why"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("released_at", None), ("released_because", ""), ("released_by", None)),
                            models.Q(
                                ("released_at__isnull", False),
                                ("released_by__isnull", False),
                                models.Q(("released_because", ""), _negated=True),
                            ),
                            _connector="OR",
                        ),
                        name="batch_hold_released_with_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="IdentityCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("asked_at", models.DateTimeField()),
                ("asked_on", models.DateField()),
                (
                    "asked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="identity_checks",
                        to="whitening_cases.case",
                    ),
                ),
            ],
            options={
                "verbose_name": "identity check",
                "ordering": ["asked_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="IncidentStep",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[("settled", "settled at the chair"), ("reopened", "settling taken back")],
                        max_length=12,
                    ),
                ),
                ("action", models.CharField(blank=True, max_length=16)),
                ("words", models.CharField(blank=True, max_length=1000)),
                ("at", models.DateTimeField()),
                ("by", models.CharField(max_length=120)),
                (
                    "incident",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="steps",
                        to="whitening_chairside.incident",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["settled", "reopened"])), name="incident_step_known"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LightUnit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("serial", models.CharField(blank=True, max_length=60, verbose_name="serial number")),
                ("output_least_mw_cm2", models.PositiveIntegerField(verbose_name="least output, mW/cm²")),
                ("output_most_mw_cm2", models.PositiveIntegerField(verbose_name="most output, mW/cm²")),
                ("probe_distance_mm", models.PositiveSmallIntegerField(verbose_name="distance of the probe, mm")),
                ("service_due_on", models.DateField(blank=True, null=True, verbose_name="service due")),
                ("out_of_use_since", models.DateField(blank=True, null=True, verbose_name="out of use since")),
                ("heat_warning", models.CharField(blank=True, max_length=200, verbose_name="heat warning")),
                (
                    "resource",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="light_unit",
                        to="clinic_diary.resource",
                    ),
                ),
            ],
            options={
                "ordering": ["resource__name", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("output_most_mw_cm2__gte", models.F("output_least_mw_cm2"))),
                        name="light_output_range_in_order",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("output_least_mw_cm2__gte", 1)), name="light_output_positive"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LightCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("checked_at", models.DateTimeField()),
                ("checked_on", models.DateField()),
                ("checked_by", models.CharField(max_length=120)),
                ("output_mw_cm2", models.PositiveIntegerField(verbose_name="measured output, mW/cm²")),
                ("distance_mm", models.PositiveSmallIntegerField(verbose_name="distance, mm")),
                ("passed", models.BooleanField()),
                (
                    "unit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="checks",
                        to="whitening_chairside.lightunit",
                    ),
                ),
            ],
            options={
                "ordering": ["checked_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Session",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveSmallIntegerField()),
                ("opened_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "booking",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="session",
                        to="clinic_diary.booking",
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sessions", to="whitening_cases.case"
                    ),
                ),
                (
                    "closed_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "opened_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="whitening_cases.plan"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sessions", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["opened_at", "pk"],
                "indexes": [models.Index(fields=["site", "closed_at"], name="session_by_site_open")],
                "constraints": [
                    models.UniqueConstraint(fields=("case", "number"), name="session_number_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("closed_at", None)), fields=("case",), name="session_one_open_per_case"
                    ),
                    models.CheckConstraint(condition=models.Q(("number__gte", 1)), name="session_number_from_1"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at", None), ("closed_by", None)),
                            models.Q(("closed_at__isnull", False), ("closed_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="session_closed_by_somebody",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="incident",
            name="session",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="incidents", to="whitening_chairside.session"
            ),
        ),
        migrations.CreateModel(
            name="BatchUse",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(choices=[("used", "used"), ("wasted", "wasted")], max_length=8)),
                ("quantity", models.PositiveIntegerField(default=1)),
                ("used_at", models.DateTimeField()),
                ("used_by", models.CharField(max_length=120)),
                (
                    "batch",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="uses", to="whitening_chairside.batch"
                    ),
                ),
                (
                    "session",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="batch_uses",
                        to="whitening_chairside.session",
                    ),
                ),
            ],
            options={
                "ordering": ["used_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["used", "wasted"])), name="batch_use_kind_known"
                    ),
                    models.CheckConstraint(condition=models.Q(("quantity__gte", 1)), name="batch_use_at_least_one"),
                ],
            },
        ),
        migrations.CreateModel(
            name="SessionEvent",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("seq", models.PositiveIntegerField()),
                ("kind", models.CharField(max_length=24)),
                ("data", models.JSONField(default=dict)),
                ("happened_at", models.DateTimeField()),
                ("recorded_at", models.DateTimeField()),
                ("actor_id", models.CharField(max_length=40)),
                ("actor_name", models.CharField(max_length=120)),
                ("client_id", models.CharField(max_length=44, unique=True)),
                ("undoes_seq", models.PositiveIntegerField(blank=True, null=True)),
                (
                    "session",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="events",
                        to="whitening_chairside.session",
                    ),
                ),
            ],
            options={
                "ordering": ["session", "seq"],
                "constraints": [
                    models.UniqueConstraint(fields=("session", "seq"), name="session_event_seq_once"),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "kind__in",
                                [
                                    "people",
                                    "reask",
                                    "stop_signal",
                                    "splash_glasses",
                                    "polish",
                                    "opener",
                                    "start_shade",
                                    "photographs",
                                    "isolation",
                                    "eyewear",
                                    "barrier",
                                    "cured",
                                    "inspection",
                                    "mix_started",
                                    "mix_discarded",
                                    "gel_on",
                                    "light_on",
                                    "light_off",
                                    "light_moved",
                                    "gel_changed",
                                    "time_up",
                                    "gel_off",
                                    "rinsed",
                                    "sensitivity",
                                    "decided",
                                    "take_off_now",
                                    "emergency_step",
                                    "take_off_reason",
                                    "contact",
                                    "contact_settled",
                                    "barrier_off",
                                    "eyewear_off",
                                    "final_shade",
                                    "advice",
                                    "next_steps",
                                    "words",
                                    "ended_early",
                                    "closed",
                                    "undo",
                                    "written_later",
                                    "skipped",
                                    "care",
                                ],
                            )
                        ),
                        name="session_event_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "undo"), ("undoes_seq__isnull", False)),
                            models.Q(models.Q(("kind", "undo"), _negated=True), ("undoes_seq", None)),
                            _connector="OR",
                        ),
                        name="session_event_undo_names_one",
                    ),
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.UniqueConstraint(fields=("session", "seq"), name="incident_once_per_entry"),
        ),
        migrations.AddConstraint(
            model_name="incident",
            constraint=models.CheckConstraint(
                condition=models.Q(("place__in", ["gum", "lip", "skin", "eye"])), name="incident_place_known"
            ),
        ),
        migrations.CreateModel(
            name="UsualTime",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("measure", models.CharField(max_length=16)),
                ("minutes", models.PositiveSmallIntegerField()),
                ("within", models.PositiveSmallIntegerField()),
                ("sessions", models.PositiveSmallIntegerField()),
                ("computed_at", models.DateTimeField()),
                (
                    "resource",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="usual_times",
                        to="clinic_diary.resource",
                    ),
                ),
            ],
            options={
                "ordering": ["resource", "measure"],
                "constraints": [
                    models.UniqueConstraint(fields=("resource", "measure"), name="usual_time_once"),
                    models.CheckConstraint(
                        condition=models.Q(("measure__in", ["start", "cycle", "finish"])),
                        name="usual_time_measure_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("minutes__gte", 1), ("within__gte", 1), ("within__lte", models.F("sessions"))
                        ),
                        name="usual_time_counts",
                    ),
                ],
            },
        ),
    ]
