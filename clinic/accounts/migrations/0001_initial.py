import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models

import clinic.accounts.models.places
import clinic.accounts.phones


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="User",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("email", models.EmailField(max_length=254, unique=True, verbose_name="e-mail")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("initials", models.CharField(max_length=4, verbose_name="initials")),
                (
                    "profession",
                    models.CharField(
                        choices=[
                            ("dentist", "dentist"),
                            ("hygienist", "dental hygienist"),
                            ("therapist", "dental therapist"),
                            ("clinical_technician", "clinical dental technician"),
                            ("nurse", "dental nurse"),
                            ("other", "not registered"),
                        ],
                        default="other",
                        max_length=24,
                        verbose_name="profession",
                    ),
                ),
                (
                    "registration_number",
                    models.CharField(blank=True, max_length=40, verbose_name="registration number"),
                ),
                (
                    "registration_expires_on",
                    models.DateField(blank=True, null=True, verbose_name="registration valid until"),
                ),
                ("indemnity_expires_on", models.DateField(blank=True, null=True, verbose_name="indemnity valid until")),
                ("may_examine_and_decide", models.BooleanField(default=False, verbose_name="may examine and decide")),
                ("may_prescribe", models.BooleanField(default=False, verbose_name="may prescribe")),
                ("may_carry_out", models.BooleanField(default=False, verbose_name="may carry out whitening")),
                (
                    "may_see_clinical_answers",
                    models.BooleanField(default=False, verbose_name="may see clinical answers"),
                ),
                (
                    "phone",
                    clinic.accounts.phones.TelephoneField(
                        blank=True, max_length=128, region=None, verbose_name="telephone for texts while on call"
                    ),
                ),
                ("language", models.CharField(default="en", max_length=8, verbose_name="language")),
                ("pin_hash", models.CharField(blank=True, max_length=200)),
                ("pin_failures", models.PositiveSmallIntegerField(default=0)),
                ("sessions_ended", models.PositiveIntegerField(default=0, editable=False)),
                ("is_active", models.BooleanField(default=True, verbose_name="works here")),
            ],
            options={
                "ordering": ["name", "pk"],
                "constraints": [
                    models.UniqueConstraint(django.db.models.functions.text.Lower("email"), name="user_email_once"),
                    models.CheckConstraint(condition=models.Q(("name", ""), _negated=True), name="user_has_a_name"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Practice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120, verbose_name="practice name")),
                ("website", models.URLField(blank=True, verbose_name="website")),
            ],
            options={
                "constraints": [models.CheckConstraint(condition=models.Q(("pk", 1)), name="practice_is_one")],
            },
        ),
        migrations.CreateModel(
            name="Site",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("slug", models.SlugField(unique=True, verbose_name="short name for addresses")),
                ("address", models.TextField(blank=True, max_length=400, verbose_name="postal address")),
                (
                    "phone",
                    clinic.accounts.phones.TelephoneField(
                        blank=True, max_length=128, region=None, verbose_name="telephone"
                    ),
                ),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail")),
                (
                    "timezone",
                    models.CharField(
                        default="UTC",
                        max_length=64,
                        validators=[clinic.accounts.models.places.must_be_a_zone],
                        verbose_name="time zone",
                    ),
                ),
                ("country", models.CharField(max_length=2, verbose_name="country (two letters)")),
                ("region", models.CharField(blank=True, max_length=16, verbose_name="region")),
                ("currency", models.CharField(default="EUR", max_length=3, verbose_name="currency (three letters)")),
                ("jurisdiction", models.CharField(blank=True, max_length=16, verbose_name="whose rules hold here")),
                ("emergency_number", models.CharField(blank=True, max_length=40, verbose_name="emergency number")),
                ("poison_number", models.CharField(blank=True, max_length=40, verbose_name="poison advice number")),
                (
                    "out_of_hours_number",
                    models.CharField(blank=True, max_length=40, verbose_name="number outside opening hours"),
                ),
                (
                    "notice_hours",
                    models.PositiveSmallIntegerField(
                        default=24, verbose_name="notice asked for before a cancellation, in hours"
                    ),
                ),
                (
                    "short_notice",
                    models.CharField(
                        choices=[
                            ("accept", "it still cancels the visit, which is then marked late"),
                            ("call", "it asks the patient to telephone"),
                        ],
                        default="accept",
                        max_length=8,
                        verbose_name="with less notice, a patient's link",
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "on_call",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                        verbose_name="person on call",
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sites", to="clinic_accounts.practice"
                    ),
                ),
            ],
            options={
                "ordering": ["name", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("country__regex", "^[A-Z]{2}$")), name="site_country_two_letters"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("currency__regex", "^[A-Z]{3}$")), name="site_currency_three_letters"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("short_notice__in", ["accept", "call"])), name="site_short_notice_known"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="OnCallTurn",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("from_at", models.DateTimeField()),
                ("until_at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="on_call_turns",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="on_call_turns",
                        to="clinic_accounts.site",
                    ),
                ),
            ],
            options={
                "ordering": ["from_at", "pk"],
                "indexes": [models.Index(fields=["site", "until_at"], name="on_call_turn_by_end")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("until_at__gt", models.F("from_at"))),
                        name="on_call_turn_ends_after_it_began",
                    ),
                    models.UniqueConstraint(fields=("site", "from_at"), name="on_call_turn_once"),
                ],
            },
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("desk", "front desk"),
                            ("assistant", "assistant"),
                            ("clinician", "clinician"),
                            ("manager", "manager"),
                        ],
                        max_length=12,
                        verbose_name="role",
                    ),
                ),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="memberships",
                        to="clinic_accounts.site",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("user", "site", "role"), name="membership_once"),
                    models.CheckConstraint(
                        condition=models.Q(("role__in", ["desk", "assistant", "clinician", "manager"])),
                        name="membership_role_known",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Invitation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("email", models.EmailField(max_length=254, verbose_name="e-mail")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("desk", "front desk"),
                            ("assistant", "assistant"),
                            ("clinician", "clinician"),
                            ("manager", "manager"),
                        ],
                        max_length=12,
                        verbose_name="role",
                    ),
                ),
                ("token_hash", models.CharField(max_length=64, unique=True)),
                ("invited_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("mailed_at", models.DateTimeField(null=True)),
                ("accepted_at", models.DateTimeField(null=True)),
                ("revoked_at", models.DateTimeField(null=True)),
                (
                    "invited_by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="invitations",
                        to="clinic_accounts.site",
                    ),
                ),
            ],
            options={
                "ordering": ["-invited_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("expires_at__gt", models.F("invited_at"))), name="invitation_expires_later"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("accepted_at", None), ("revoked_at", None), _connector="OR"),
                        name="invitation_one_end",
                    ),
                ],
            },
        ),
    ]
