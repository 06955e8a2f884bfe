import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("clinic_accounts", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_patients", "0002_trigrams"),
    ]

    operations = [
        migrations.CreateModel(
            name="CheckTries",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("source", models.CharField(max_length=64)),
                ("since", models.DateTimeField()),
                ("tries", models.PositiveIntegerField(default=1)),
            ],
            options={
                "indexes": [models.Index(fields=["since"], name="check_tries_by_age")],
                "constraints": [
                    models.UniqueConstraint(fields=("source", "since"), name="check_tries_once_per_stretch")
                ],
            },
        ),
        migrations.CreateModel(
            name="IncomingPaper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("subject_kind", models.CharField(blank=True, max_length=40)),
                ("subject_id", models.CharField(blank=True, max_length=64)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("consent", "consent signed on paper"),
                            ("letter", "letter of a doctor or specialist"),
                            ("other", "another paper"),
                        ],
                        max_length=8,
                        verbose_name="kind",
                    ),
                ),
                ("sender", models.CharField(blank=True, max_length=120, verbose_name="who wrote it")),
                ("dated_on", models.DateField(blank=True, null=True, verbose_name="date on the paper")),
                ("received_on", models.DateField(verbose_name="came in on")),
                (
                    "media_type",
                    models.CharField(
                        choices=[("application/pdf", "PDF"), ("image/jpeg", "JPEG"), ("image/png", "PNG")],
                        max_length=16,
                    ),
                ),
                ("sha256", models.CharField(max_length=64)),
                ("byte_size", models.PositiveIntegerField()),
                ("pages", models.PositiveIntegerField(verbose_name="pages")),
                ("filed_at", models.DateTimeField(verbose_name="filed")),
                (
                    "filed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="incoming_papers",
                        to="clinic_patients.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="incoming_papers",
                        to="clinic_accounts.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-filed_at", "-pk"],
                "indexes": [
                    models.Index(fields=["subject_kind", "subject_id"], name="incoming_by_subject"),
                    models.Index(fields=["sha256"], name="incoming_by_digest"),
                ],
                "constraints": [
                    models.UniqueConstraint(fields=("patient", "sha256"), name="incoming_once_per_patient"),
                    models.CheckConstraint(
                        condition=models.Q(("kind__in", ["consent", "letter", "other"])), name="incoming_kind_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("media_type__in", ["application/pdf", "image/jpeg", "image/png"])),
                        name="incoming_media_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("sha256__regex", "^[0-9a-f]{64}$")), name="incoming_sha256_shape"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("byte_size__gt", 0), ("pages__gt", 0)), name="incoming_not_empty"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("dated_on", None), ("dated_on__lte", models.F("received_on")), _connector="OR"
                        ),
                        name="incoming_dated_before_received",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "letter"), _negated=True),
                            models.Q(models.Q(("sender", ""), _negated=True), ("dated_on__isnull", False)),
                            _connector="OR",
                        ),
                        name="incoming_letter_has_sender_and_date",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="IssuedDocument",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(max_length=40, verbose_name="kind")),
                ("title", models.CharField(max_length=200, verbose_name="title")),
                ("language", models.CharField(max_length=8, verbose_name="language")),
                ("large_print", models.BooleanField(default=False, verbose_name="large print")),
                ("subject_kind", models.CharField(max_length=40)),
                ("subject_id", models.CharField(max_length=64)),
                ("template_version", models.PositiveIntegerField()),
                ("sha256", models.CharField(max_length=64, unique=True)),
                ("byte_size", models.PositiveIntegerField()),
                ("pages", models.PositiveIntegerField(verbose_name="pages")),
                ("undrawn", models.CharField(blank=True, max_length=200, verbose_name="could not be printed")),
                ("verify_code", models.CharField(max_length=20, unique=True)),
                ("file_identifier", models.CharField(max_length=32, unique=True)),
                ("words_sha256", models.CharField(blank=True, max_length=64)),
                ("issued_at", models.DateTimeField(verbose_name="issued")),
                ("issued_by_id", models.CharField(max_length=64)),
                ("issued_by_name", models.CharField(blank=True, max_length=200, verbose_name="issued by")),
                (
                    "patient",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="documents",
                        to="clinic_patients.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="documents", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["-issued_at", "-pk"],
                "indexes": [
                    models.Index(fields=["subject_kind", "subject_id"], name="document_by_subject"),
                    models.Index(fields=["patient", "issued_at"], name="document_by_patient"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("sha256__regex", "^[0-9a-f]{64}$")), name="document_sha256_shape"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("verify_code__regex", "^[0123456789ABCDEFGHJKMNPQRSTVWXYZ]{20}$")),
                        name="document_code_shape",
                    ),
                    models.CheckConstraint(condition=models.Q(("byte_size__gt", 0)), name="document_not_empty"),
                    models.CheckConstraint(condition=models.Q(("pages__gt", 0)), name="document_has_pages"),
                    models.CheckConstraint(
                        condition=models.Q(("template_version__gt", 0)), name="document_template_version"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", ""), _negated=True),
                            models.Q(("subject_kind", ""), _negated=True),
                            models.Q(("language", ""), _negated=True),
                        ),
                        name="document_is_about_something",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PaperMistake",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("why", models.CharField(max_length=300)),
                ("marked_at", models.DateTimeField()),
                (
                    "marked_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "paper",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="mistake",
                        to="clinic_documents.incomingpaper",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("why", ""), _negated=True), name="paper_mistake_says_why"
                    )
                ],
            },
        ),
    ]
