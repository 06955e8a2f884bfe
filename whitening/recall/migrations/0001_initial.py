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
        ("whitening_chairside", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="Escalation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "urgency",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "nothing worrying"),
                            (1, "call within three days"),
                            (2, "clinician on the same day"),
                            (3, "clinician within two hours"),
                            (4, "emergency"),
                        ]
                    ),
                ),
                ("due_at", models.DateTimeField()),
                ("raised_at", models.DateTimeField()),
                ("taken_at", models.DateTimeField(blank=True, null=True)),
                ("times_raised", models.PositiveSmallIntegerField(default=0)),
                ("raised_again_at", models.DateTimeField(blank=True, null=True)),
                ("handed_on_at", models.DateTimeField(blank=True, null=True)),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("closed_by", models.CharField(blank=True, max_length=120)),
                ("closing_words", models.CharField(blank=True, max_length=500)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="escalations",
                        to="whitening_cases.case",
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-urgency", "due_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="FollowUp",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("two_day", "two-day check"),
                            ("re_ask", "asked again two days later"),
                            ("next_day_call", "call on the next day"),
                            ("review", "month review"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting for its day"),
                            ("asked", "asked, waiting for an answer"),
                            ("call", "call to make"),
                            ("answered", "answered"),
                            ("done", "done"),
                            ("not_reached", "not reached after three tries"),
                            ("cancelled", "not needed any more"),
                        ],
                        default="waiting",
                        max_length=12,
                    ),
                ),
                ("due_at", models.DateTimeField()),
                ("call_by", models.DateTimeField()),
                ("next_at", models.DateTimeField()),
                ("planned_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("ended_by_leaving", models.BooleanField(default=False)),
                ("words", models.CharField(blank=True, max_length=500)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="followups", to="whitening_cases.case"
                    ),
                ),
                (
                    "owner",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "session",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="followups",
                        to="whitening_chairside.session",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["due_at", "pk"],
                "indexes": [models.Index(fields=["state", "next_at", "id", "site"], name="follow_up_by_state_next")],
                "constraints": [
                    models.UniqueConstraint(fields=("session", "kind"), name="follow_up_once"),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["two_day", "re_ask", "next_day_call", "review"])),
                        name="follow_up_kind_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["waiting", "asked", "call", "answered", "done", "not_reached", "cancelled"])
                        ),
                        name="follow_up_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("call_by__gte", models.F("due_at"))), name="follow_up_call_later"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Attempt",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "result",
                    models.CharField(
                        choices=[
                            ("reached", "reached"),
                            ("left_message", "left a message"),
                            ("no_answer", "no answer"),
                            ("wrong_number", "wrong number"),
                            ("wants_visit", "wants a visit"),
                        ],
                        max_length=16,
                    ),
                ),
                ("words", models.CharField(blank=True, max_length=500)),
                ("tried_at", models.DateTimeField()),
                (
                    "tried_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "followup",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="attempts",
                        to="whitening_recall.followup",
                    ),
                ),
            ],
            options={
                "ordering": ["tried_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("result__in", ["reached", "left_message", "no_answer", "wrong_number", "wants_visit"])
                        ),
                        name="attempt_result_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Raising",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("step", models.PositiveSmallIntegerField()),
                ("raised_at", models.DateTimeField()),
                (
                    "escalation",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="raisings",
                        to="whitening_recall.escalation",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["step", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("escalation", "step", "person", "raised_at"), name="raising_once")
                ],
            },
        ),
        migrations.CreateModel(
            name="Recall",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[("check", "dental check"), ("colour", "colour of the teeth, a year later")],
                        max_length=8,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("waiting", "waiting for its day"),
                            ("asked", "asked, waiting for an answer"),
                            ("answered", "answered"),
                            ("booked", "booked"),
                            ("not_reached", "no answer after three times"),
                            ("cancelled", "not needed any more"),
                        ],
                        default="waiting",
                        max_length=12,
                    ),
                ),
                ("due_at", models.DateTimeField()),
                ("next_at", models.DateTimeField()),
                ("times_asked", models.PositiveSmallIntegerField(default=0)),
                (
                    "answer",
                    models.CharField(
                        blank=True, choices=[("call", "please call me"), ("no", "not this time")], max_length=8
                    ),
                ),
                ("planned_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                ("ended_by_leaving", models.BooleanField(default=False)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="recalls", to="whitening_cases.case"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["due_at", "pk"],
                "indexes": [
                    models.Index(fields=["state", "next_at"], name="recall_by_state_next"),
                    models.Index(fields=["site", "kind", "due_at"], name="recall_by_site_due"),
                    models.Index(
                        condition=models.Q(("closed_at__isnull", False)), fields=["closed_at"], name="recall_by_closed"
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("case", "kind"), name="recall_once"),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["check", "colour"])), name="recall_kind_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("state__in", ["waiting", "asked", "answered", "booked", "not_reached", "cancelled"])
                        ),
                        name="recall_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("answer", ""), ("answer__in", ["call", "no"]), _connector="OR"),
                        name="recall_answer_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("times_asked__lte", 3)), name="recall_three_times_at_most"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("closed_at", None), ("state__in", ["waiting", "asked"])),
                            models.Q(
                                models.Q(("state__in", ["waiting", "asked"]), _negated=True),
                                ("closed_at__isnull", False),
                            ),
                            _connector="OR",
                        ),
                        name="recall_closed_when_over",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reply",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("questions", models.CharField(max_length=24)),
                ("answers", models.JSONField()),
                (
                    "urgency",
                    models.PositiveSmallIntegerField(
                        choices=[
                            (0, "nothing worrying"),
                            (1, "call within three days"),
                            (2, "clinician on the same day"),
                            (3, "clinician within two hours"),
                            (4, "emergency"),
                        ]
                    ),
                ),
                ("rules", models.JSONField(default=list)),
                ("rules_version", models.CharField(max_length=24)),
                ("said_at", models.DateTimeField()),
                ("said_by", models.CharField(blank=True, max_length=120)),
                ("typed_by_staff", models.BooleanField(default=False)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="replies", to="whitening_cases.case"
                    ),
                ),
                (
                    "session",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replies",
                        to="whitening_chairside.session",
                    ),
                ),
            ],
            options={
                "ordering": ["said_at", "pk"],
            },
        ),
        migrations.AddField(
            model_name="escalation",
            name="reply",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="escalation", to="whitening_recall.reply"
            ),
        ),
        migrations.CreateModel(
            name="Review",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("sensitivity", models.PositiveSmallIntegerField(verbose_name="sensitivity, 0 to 10")),
                (
                    "satisfaction",
                    models.PositiveSmallIntegerField(
                        choices=[(1, "very unhappy"), (2, "unhappy"), (3, "neither"), (4, "happy"), (5, "very happy")],
                        verbose_name="how happy with the colour",
                    ),
                ),
                ("gums_quiet", models.BooleanField(verbose_name="gums are quiet")),
                ("words", models.CharField(blank=True, max_length=1000, verbose_name="in the patient's words")),
                (
                    "decision",
                    models.CharField(
                        choices=[
                            ("finished", "finished"),
                            ("top_up", "top-up: a new case with its own examination"),
                            ("restore", "fillings or crowns to match next"),
                        ],
                        max_length=12,
                        verbose_name="decision",
                    ),
                ),
                ("is_late", models.BooleanField(default=False)),
                ("reviewed_at", models.DateTimeField()),
                (
                    "booking",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_diary.booking",
                    ),
                ),
                (
                    "case",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="review", to="whitening_cases.case"
                    ),
                ),
                (
                    "reviewed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "shade",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="whitening_cases.shadereading"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("sensitivity__lte", 10)), name="review_sensitivity_0_to_10"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("satisfaction__gte", 1), ("satisfaction__lte", 5)), name="review_five_words"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("decision__in", ["finished", "top_up", "restore"])),
                        name="review_decision_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="SavedView",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=40, verbose_name="name of the view")),
                ("kind", models.CharField(blank=True, max_length=16)),
                ("owner", models.CharField(blank=True, max_length=16)),
                ("section", models.CharField(blank=True, max_length=16)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="saved_views",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["name", "pk"],
                "constraints": [
                    models.UniqueConstraint(fields=("user", "name"), name="saved_view_name_once"),
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True), name="saved_view_has_a_name"
                    ),
                ],
            },
        ),
        migrations.AddIndex(
            model_name="escalation",
            index=models.Index(
                condition=models.Q(("closed_at", None)), fields=["-urgency", "due_at"], name="escalation_open"
            ),
        ),
        migrations.AddConstraint(
            model_name="escalation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("closed_at", None), models.Q(("closing_words", ""), _negated=True), _connector="OR"
                ),
                name="escalation_closed_with_words",
            ),
        ),
        migrations.AddConstraint(
            model_name="escalation",
            constraint=models.CheckConstraint(
                condition=models.Q(("taken_at", None), ("owner__isnull", False), _connector="OR"),
                name="escalation_taken_by_somebody",
            ),
        ),
        migrations.AddConstraint(
            model_name="escalation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("raised_again_at", None), ("times_raised", 0)),
                    models.Q(("raised_again_at__isnull", False), ("times_raised__gt", 0)),
                    _connector="OR",
                ),
                name="escalation_raised_again_at",
            ),
        ),
    ]
