import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_documents", "0001_initial"),
        ("whitening_cases", "0001_initial"),
        ("whitening_screening", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="ConsentText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("wording", models.CharField(max_length=24)),
                ("language", models.CharField(max_length=8)),
                ("body", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("frozen_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consent_texts",
                        to="whitening_cases.case",
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="consent_texts",
                        to="whitening_cases.plan",
                    ),
                ),
            ],
            options={
                "ordering": ["frozen_at", "pk"],
            },
        ),
        migrations.CreateModel(
            name="PaperReading",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("signer_name", models.CharField(max_length=200)),
                ("name_words", models.CharField(blank=True, max_length=200)),
                ("signed_on", models.DateField()),
                ("photographs", models.JSONField(default=dict)),
                ("interpreter_signed", models.BooleanField(default=False)),
                ("read_at", models.DateTimeField()),
                (
                    "form",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_documents.issueddocument",
                    ),
                ),
                (
                    "paper",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="clinic_documents.incomingpaper",
                    ),
                ),
                (
                    "read_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "text",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="whitening_consent.consenttext",
                    ),
                ),
            ],
            options={
                "ordering": ["read_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("signer_name", ""), _negated=True), name="paper_reading_has_a_name"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="PaperCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("agrees", models.BooleanField()),
                ("words", models.CharField(blank=True, max_length=300)),
                ("checked_at", models.DateTimeField()),
                (
                    "checked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "read_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "reading",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="check_made",
                        to="whitening_consent.paperreading",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("checked_by", models.F("read_by")), _negated=True),
                        name="paper_checked_by_another_person",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("agrees", True), models.Q(("words", ""), _negated=True), _connector="OR"),
                        name="paper_check_says_what_differs",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="InterpreterSignature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("strokes", "by hand on the screen"),
                            ("typed", "by typing the name, with the intent declared"),
                            ("paper", "by hand on paper"),
                            ("heard", "by word on the telephone, written down by staff"),
                        ],
                        max_length=8,
                    ),
                ),
                ("signer_name", models.CharField(max_length=200)),
                ("language", models.CharField(max_length=60)),
                ("strokes", models.JSONField(blank=True, default=list)),
                ("zone", models.CharField(max_length=64)),
                ("signed_at", models.DateTimeField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "heard_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "text",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="interpreter_signature",
                        to="whitening_consent.consenttext",
                    ),
                ),
                (
                    "reading",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="interpreter_signature",
                        to="whitening_consent.paperreading",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("method__in", ["strokes", "typed", "paper", "heard"])),
                        name="interpreter_signature_method_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("signer_name", ""), _negated=True), models.Q(("language", ""), _negated=True)
                        ),
                        name="interpreter_signature_named",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("heard_by__isnull", False), ("method", "heard")),
                            models.Q(models.Q(("method", "heard"), _negated=True), ("heard_by__isnull", True)),
                            _connector="OR",
                        ),
                        name="interpreter_heard_by_somebody",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("method", "paper"), ("reading__isnull", False)),
                            models.Q(models.Q(("method", "paper"), _negated=True), ("reading__isnull", True)),
                            _connector="OR",
                        ),
                        name="interpreter_on_paper_was_read",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PaperWithdrawal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("words", models.CharField(blank=True, max_length=500)),
                ("withdrawn_at", models.DateTimeField()),
                ("withdrawn_by", models.CharField(max_length=120)),
                ("sha256", models.CharField(max_length=64)),
                (
                    "reading",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawal",
                        to="whitening_consent.paperreading",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="PhotoChoice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "use",
                    models.CharField(
                        choices=[
                            ("record", "for my own treatment record"),
                            ("teaching", "to teach colleagues"),
                            ("publication", "in a professional publication"),
                            ("public", "on the practice's website or in social media"),
                        ],
                        max_length=12,
                    ),
                ),
                ("allowed", models.BooleanField()),
                ("chosen_at", models.DateTimeField()),
                ("chosen_by", models.CharField(max_length=120)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="photo_choices",
                        to="whitening_cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["chosen_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("use__in", ["record", "teaching", "publication", "public"])),
                        name="photo_use_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Quote",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("amount", models.DecimalField(decimal_places=2, max_digits=9)),
                ("currency", models.CharField(max_length=3)),
                ("included", models.TextField(blank=True, max_length=1000)),
                ("not_included", models.TextField(blank=True, max_length=1000)),
                ("redo_and_refund", models.TextField(blank=True, max_length=1000)),
                ("valid_until", models.DateField()),
                ("quoted_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="quotes", to="whitening_cases.case"
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="quotes", to="whitening_cases.plan"
                    ),
                ),
                (
                    "quoted_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["quoted_at", "pk"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("amount__gte", 0)), name="quote_not_negative")
                ],
            },
        ),
        migrations.CreateModel(
            name="Deposit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "step",
                    models.CharField(
                        choices=[
                            ("asked", "asked for"),
                            ("received", "received"),
                            ("returned", "returned"),
                            ("kept", "kept by the practice"),
                        ],
                        max_length=8,
                    ),
                ),
                ("amount", models.DecimalField(decimal_places=2, max_digits=9)),
                ("words", models.CharField(blank=True, max_length=300)),
                ("recorded_at", models.DateTimeField()),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "quote",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="deposits",
                        to="whitening_consent.quote",
                    ),
                ),
            ],
            options={
                "ordering": ["recorded_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("step__in", ["asked", "received", "returned", "kept"])),
                        name="deposit_step_known",
                    ),
                    models.CheckConstraint(condition=models.Q(("amount__gt", 0)), name="deposit_of_something"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("step", "kept"), _negated=True),
                            models.Q(("words", ""), _negated=True),
                            _connector="OR",
                        ),
                        name="deposit_kept_for_a_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Signature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "method",
                    models.CharField(
                        choices=[
                            ("strokes", "by hand on the screen"),
                            ("typed", "by typing the name, with the intent declared"),
                            ("paper", "by hand on paper"),
                            ("heard", "by word on the telephone, written down by staff"),
                        ],
                        max_length=8,
                    ),
                ),
                ("signer_name", models.CharField(max_length=200)),
                ("strokes", models.JSONField(blank=True, default=list)),
                ("photographs", models.JSONField(default=dict)),
                ("device", models.CharField(max_length=24)),
                ("zone", models.CharField(max_length=64)),
                ("signed_at", models.DateTimeField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "answers",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="whitening_screening.answerset",
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signatures",
                        to="whitening_cases.case",
                    ),
                ),
                (
                    "document",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_documents.issueddocument",
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signatures",
                        to="whitening_cases.plan",
                    ),
                ),
                (
                    "reading",
                    models.OneToOneField(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signature",
                        to="whitening_consent.paperreading",
                    ),
                ),
                (
                    "text",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signatures",
                        to="whitening_consent.consenttext",
                    ),
                ),
            ],
            options={
                "ordering": ["signed_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("method__in", ["strokes", "typed", "paper"])), name="signature_method_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("document__isnull", True), ("method", "paper"), ("reading__isnull", False)),
                            models.Q(models.Q(("method", "paper"), _negated=True), ("reading__isnull", True)),
                            _connector="OR",
                        ),
                        name="signature_on_paper_was_read",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("signer_name", ""), _negated=True), name="signature_has_a_name"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Countersignature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("countersigned_at", models.DateTimeField()),
                ("sha256", models.CharField(max_length=64)),
                (
                    "countersigned_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "signature",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="countersignature",
                        to="whitening_consent.signature",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Talk",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "what_matters",
                    models.TextField(blank=True, max_length=1000, verbose_name="what matters to the patient"),
                ),
                (
                    "questions",
                    models.TextField(blank=True, max_length=2000, verbose_name="questions and the answers given"),
                ),
                ("can_decide", models.BooleanField(verbose_name="understands, weighs and decides for themselves")),
                ("language", models.CharField(max_length=8, verbose_name="language of the consent")),
                (
                    "interpreter",
                    models.CharField(
                        choices=[
                            ("none", "no interpreter was needed"),
                            ("present", "an interpreter was in the room"),
                            ("phone", "an interpreter was on the telephone"),
                            ("relative", "a grown-up relative interpreted (a caution)"),
                        ],
                        max_length=12,
                        verbose_name="interpreter",
                    ),
                ),
                ("interpreter_name", models.CharField(blank=True, max_length=120, verbose_name="interpreter's name")),
                ("interpreter_language", models.CharField(blank=True, max_length=60, verbose_name="language")),
                ("interpreter_service", models.CharField(blank=True, max_length=120, verbose_name="service")),
                ("talked_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="talks", to="whitening_cases.case"
                    ),
                ),
                (
                    "plan",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="talks", to="whitening_cases.plan"
                    ),
                ),
                (
                    "talked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["talked_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("interpreter__in", ["none", "present", "phone", "relative"])),
                        name="talk_interpreter_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("interpreter", "none"), models.Q(("interpreter_name", ""), _negated=True), _connector="OR"
                        ),
                        name="talk_interpreter_named",
                    ),
                ],
            },
        ),
        migrations.AddField(
            model_name="consenttext",
            name="talk",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="consent_texts", to="whitening_consent.talk"
            ),
        ),
        migrations.CreateModel(
            name="TranslationCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("language", models.CharField(max_length=8)),
                ("label", models.CharField(max_length=24)),
                ("sha256", models.CharField(max_length=64)),
                ("name", models.CharField(max_length=120, verbose_name="who checked it")),
                ("qualification", models.CharField(max_length=200, verbose_name="qualification or role")),
                ("checked_on", models.DateField(verbose_name="checked on")),
                ("recorded_at", models.DateTimeField()),
                (
                    "recorded_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["language", "recorded_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("name", ""), _negated=True), name="translation_check_has_a_name"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("qualification", ""), _negated=True), name="translation_check_says_who"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Withdrawal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("words", models.CharField(blank=True, max_length=500)),
                ("withdrawn_at", models.DateTimeField()),
                ("withdrawn_by", models.CharField(max_length=120)),
                ("sha256", models.CharField(max_length=64)),
                (
                    "signature",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="withdrawal",
                        to="whitening_consent.signature",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="WordingUse",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("language", models.CharField(max_length=8)),
                ("number", models.PositiveIntegerField()),
                ("label", models.CharField(max_length=24)),
                ("used_since", models.DateTimeField()),
                (
                    "used_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["language", "number"],
                "constraints": [
                    models.UniqueConstraint(fields=("language", "number"), name="wording_use_number_once"),
                    models.CheckConstraint(condition=models.Q(("number__gte", 1)), name="wording_use_number_from_1"),
                ],
            },
        ),
        migrations.CreateModel(
            name="OwnWording",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("language", models.CharField(max_length=8)),
                ("version", models.PositiveIntegerField()),
                ("made_over", models.CharField(max_length=8)),
                ("body", models.TextField()),
                ("sha256", models.CharField(max_length=64)),
                ("reason", models.CharField(max_length=500, verbose_name="what was changed, and why")),
                ("written_at", models.DateTimeField()),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["language", "version"],
                "constraints": [
                    models.UniqueConstraint(fields=("language", "version"), name="own_wording_version_once"),
                    models.UniqueConstraint(fields=("language", "sha256"), name="own_wording_words_once"),
                    models.CheckConstraint(condition=models.Q(("version__gte", 1)), name="own_wording_version_from_1"),
                    models.CheckConstraint(
                        condition=models.Q(("reason", ""), _negated=True), name="own_wording_has_a_reason"
                    ),
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="consenttext",
            constraint=models.UniqueConstraint(fields=("talk", "sha256"), name="consent_text_once"),
        ),
    ]
