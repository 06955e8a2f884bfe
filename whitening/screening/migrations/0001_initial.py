import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_documents", "0001_initial"),
        ("whitening_cases", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="AnswerDraft",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("questionnaire", models.CharField(max_length=24)),
                ("values", models.JSONField(default=dict)),
                ("given_in", models.JSONField(default=dict)),
                ("read_ahead", models.BooleanField(default=False)),
                ("changed_at", models.DateTimeField()),
                (
                    "case",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="answer_draft",
                        to="whitening_cases.case",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="AssessmentSignature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rules_version", models.CharField(max_length=255)),
                ("outcome", models.JSONField()),
                ("sha256", models.CharField(max_length=64)),
                ("signed_at", models.DateTimeField()),
                ("signed_on", models.DateField()),
                ("profession", models.CharField(max_length=24)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="assessment_signatures",
                        to="whitening_cases.case",
                    ),
                ),
                (
                    "signed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["signed_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="ExaminationRecord",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("findings", models.JSONField()),
                ("note", models.CharField(blank=True, max_length=1000)),
                ("examined_at", models.DateTimeField()),
                ("examined_on", models.DateField()),
                ("profession", models.CharField(max_length=24)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="examinations",
                        to="whitening_cases.case",
                    ),
                ),
                (
                    "examined_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["examined_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="Letter",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rule", models.CharField(max_length=12)),
                ("addressee", models.CharField(max_length=400)),
                ("question", models.TextField(max_length=1500)),
                ("planned", models.TextField(max_length=1000)),
                ("written_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="letters", to="whitening_cases.case"
                    ),
                ),
                (
                    "document",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_documents.issueddocument",
                    ),
                ),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["written_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("addressee", ""), _negated=True), models.Q(("question", ""), _negated=True)
                        ),
                        name="letter_asks_somebody_something",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="LetterReply",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("attached_at", models.DateTimeField()),
                (
                    "attached_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "letter",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="replies",
                        to="whitening_screening.letter",
                    ),
                ),
                (
                    "paper",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="reply",
                        to="clinic_documents.incomingpaper",
                    ),
                ),
            ],
            options={
                "ordering": ["attached_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="LocalRuleChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=16)),
                ("version", models.PositiveIntegerField()),
                ("made_over", models.CharField(max_length=8)),
                ("values", models.JSONField(blank=True, default=dict)),
                ("reason", models.CharField(max_length=500, verbose_name="why")),
                ("source", models.CharField(max_length=500, verbose_name="where it was looked up")),
                ("quality", models.CharField(max_length=20, verbose_name="how it was looked up")),
                ("checked_on", models.DateField(verbose_name="checked on")),
                ("changed_at", models.DateTimeField()),
                (
                    "changed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["code", "version"],
                "constraints": [
                    models.UniqueConstraint(fields=("code", "version"), name="local_rule_version_once"),
                    models.CheckConstraint(condition=models.Q(("version__gte", 1)), name="local_rule_version_from_1"),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="local_rule_has_a_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("source", ""), _negated=True), name="local_rule_has_a_source"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Reask",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("asked_on", models.DateField()),
                ("shown", models.JSONField()),
                ("replies", models.JSONField()),
                ("changed", models.JSONField(default=list)),
                ("asked_at", models.DateTimeField()),
                ("asked_by", models.CharField(max_length=120)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="reasks", to="whitening_cases.case"
                    ),
                ),
            ],
            options={
                "ordering": ["asked_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="ReaskDecision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("reason", models.CharField(max_length=1000)),
                ("decided_at", models.DateTimeField()),
                ("profession", models.CharField(max_length=24)),
                (
                    "decided_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "reask",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="decision",
                        to="whitening_screening.reask",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="reask_decision_has_a_reason"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="AnswerSet",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("questionnaire", models.CharField(max_length=24)),
                ("language", models.CharField(max_length=8)),
                (
                    "source",
                    models.CharField(
                        choices=[
                            ("link", "by the patient, through the private link"),
                            ("tablet", "by the patient, on the practice's tablet"),
                            ("phone", "read out on the telephone, typed by staff"),
                            ("paper", "from paper, typed by staff"),
                            ("chair", "asked at the chair"),
                        ],
                        max_length=8,
                    ),
                ),
                ("values", models.JSONField()),
                ("given_on", models.DateField()),
                ("handed_in_at", models.DateTimeField()),
                ("handed_in_by", models.CharField(max_length=120)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="answer_sets",
                        to="whitening_cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["handed_in_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("source__in", ["link", "tablet", "phone", "paper", "chair"])),
                        name="answer_set_source_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Decision",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rule", models.CharField(max_length=12)),
                ("rules_version", models.CharField(max_length=255)),
                (
                    "sort",
                    models.CharField(
                        choices=[
                            ("cleared", "may go on"),
                            ("examined", "examined, and not so"),
                            ("stands", "stands: not going ahead"),
                        ],
                        max_length=12,
                    ),
                ),
                ("basis", models.CharField(max_length=200)),
                ("reason", models.CharField(max_length=1000, verbose_name="why")),
                ("evidence", models.CharField(blank=True, max_length=1000, verbose_name="evidence")),
                ("decided_at", models.DateTimeField()),
                ("decided_on", models.DateField()),
                ("profession", models.CharField(max_length=24)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="decisions", to="whitening_cases.case"
                    ),
                ),
                (
                    "decided_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "paper",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="decisions",
                        to="clinic_documents.incomingpaper",
                    ),
                ),
            ],
            options={
                "ordering": ["decided_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("sort__in", ["cleared", "examined", "stands"])), name="decision_sort_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="decision_has_a_reason"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("sort", "examined"), _negated=True),
                            models.Q(("evidence", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="decision_examined_has_evidence",
                    ),
                ],
            },
        ),
    ]
