import django.core.validators
import django.db.models.deletion
from django.db import migrations, models

import clinic.accounts.models.places
import clinic.accounts.phones
import clinic.patients.fields


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("clinic_accounts", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="NameKey",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", clinic.patients.fields.FoldedField(max_length=60)),
                ("word", clinic.patients.fields.FoldedField(max_length=60)),
            ],
            options={
                "indexes": [models.Index(fields=["word"], name="name_key_by_word")],
                "constraints": [models.UniqueConstraint(fields=("key", "word"), name="name_key_once")],
            },
        ),
        migrations.CreateModel(
            name="Patient",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=200, verbose_name="full name")),
                ("preferred_name", models.CharField(blank=True, max_length=100, verbose_name="likes to be called")),
                ("birth_on", models.DateField(verbose_name="date of birth")),
                (
                    "phone",
                    clinic.accounts.phones.TelephoneField(
                        blank=True, max_length=128, region=None, verbose_name="telephone"
                    ),
                ),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail")),
                (
                    "address",
                    models.TextField(
                        blank=True,
                        max_length=400,
                        validators=[django.core.validators.MaxLengthValidator(400)],
                        verbose_name="postal address",
                    ),
                ),
                ("language", models.CharField(default="en", max_length=8, verbose_name="language")),
                ("needs_interpreter", models.BooleanField(default=False, verbose_name="wants an interpreter")),
                ("interpreter_language", models.CharField(blank=True, max_length=60, verbose_name="interpreter for")),
                ("allergies", models.CharField(blank=True, max_length=300, verbose_name="allergies to show")),
                ("own_dentist", models.CharField(blank=True, max_length=200, verbose_name="own dentist, if not here")),
                (
                    "channel",
                    models.CharField(
                        choices=[
                            ("email", "e-mail"),
                            ("text", "text message"),
                            ("phone", "telephone call"),
                            ("letter", "letter"),
                        ],
                        default="email",
                        max_length=8,
                        verbose_name="reach the patient by",
                    ),
                ),
                (
                    "timezone",
                    models.CharField(
                        blank=True,
                        max_length=64,
                        validators=[clinic.accounts.models.places.must_be_a_zone],
                        verbose_name="time zone",
                    ),
                ),
                ("search_name", clinic.patients.fields.FoldedField(editable=False, max_length=420)),
                ("search_turned", clinic.patients.fields.FoldedField(editable=False, max_length=420)),
                ("search_digits", clinic.patients.fields.FoldedField(blank=True, editable=False, max_length=20)),
                ("search_text", clinic.patients.fields.SearchTextField(editable=False)),
                ("phone_wrong_at", models.DateTimeField(blank=True, null=True)),
                ("email_bounced_at", models.DateTimeField(blank=True, null=True)),
                ("moved_on", models.DateField(blank=True, null=True)),
                ("died_on", models.DateField(blank=True, null=True)),
                ("merged_at", models.DateTimeField(blank=True, null=True)),
                ("registered_at", models.DateTimeField()),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "merged_into",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="aliases",
                        to="clinic_patients.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="patients", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["site", "birth_on"], name="patient_by_birth"),
                    models.Index(
                        condition=models.Q(("merged_into", None)),
                        fields=["search_name", "site"],
                        name="patient_by_name",
                    ),
                    models.Index(
                        condition=models.Q(("merged_into", None)),
                        fields=["search_turned", "site"],
                        name="patient_by_turned",
                    ),
                    models.Index(
                        condition=models.Q(("merged_into", None)),
                        fields=["search_digits", "site"],
                        name="patient_by_digits",
                    ),
                    models.Index(
                        condition=models.Q(("merged_into", None)),
                        fields=["registered_at", "site"],
                        name="patient_by_registered",
                    ),
                ],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("name", ""), _negated=True), name="patient_has_a_name"),
                    models.CheckConstraint(
                        condition=models.Q(("birth_on__gte", "1900-01-01")), name="patient_birth_plausible"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("merged_into", models.F("pk")), _negated=True),
                        name="patient_not_its_own_alias",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("merged_at", None), ("merged_into", None)),
                            models.Q(("merged_at__isnull", False), ("merged_into__isnull", False)),
                            _connector="OR",
                        ),
                        name="patient_joined_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="ContactChoice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("appointment", "appointments and reminders"),
                            ("safety", "how you are after treatment"),
                            ("recall", "when the next check is due"),
                            ("colour", "about the colour of the teeth in about a year"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "channel",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("email", "e-mail"),
                            ("text", "text message"),
                            ("phone", "telephone call"),
                            ("letter", "letter"),
                        ],
                        max_length=8,
                    ),
                ),
                ("allowed", models.BooleanField(null=True)),
                ("wording", models.CharField(max_length=300)),
                ("chosen_at", models.DateTimeField()),
                ("chosen_by", models.CharField(max_length=120)),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="contact_choices",
                        to="clinic_patients.patient",
                    ),
                ),
            ],
            options={
                "ordering": ["-chosen_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("purpose__in", ["appointment", "safety", "recall", "colour"])),
                        name="contact_choice_purpose_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("channel__in", ["", "email", "text"])), name="contact_choice_written_way"
                    ),
                ],
            },
        ),
    ]
