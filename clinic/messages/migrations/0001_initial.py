import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import clinic.accounts.phones


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("clinic_accounts", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_patients", "0002_trigrams"),
    ]

    operations = [
        migrations.CreateModel(
            name="Heartbeat",
            fields=[
                ("name", models.CharField(max_length=32, primary_key=True, serialize=False)),
                ("beat_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="TroubleMail",
            fields=[
                ("name", models.CharField(max_length=64, primary_key=True, serialize=False)),
                ("tries", models.PositiveSmallIntegerField(default=1)),
            ],
        ),
        migrations.CreateModel(
            name="DueMessage",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("subject_kind", models.CharField(max_length=24)),
                ("subject_id", models.BigIntegerField()),
                ("kind", models.CharField(max_length=32)),
                ("version", models.PositiveIntegerField(default=1)),
                ("step", models.PositiveSmallIntegerField(default=0)),
                ("due_at", models.DateTimeField()),
                ("not_after", models.DateTimeField()),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("planned", "planned"),
                            ("due", "due"),
                            ("claimed", "being prepared"),
                            ("handing_over", "being handed over"),
                            ("handed_over", "handed over"),
                            ("delivered", "delivered"),
                            ("bounced", "came back"),
                            ("failed", "failed"),
                            ("uncertain", "uncertain: may have gone out"),
                            ("missed", "missed"),
                            ("cancelled", "cancelled"),
                        ],
                        default="planned",
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
                ("sent_to", models.CharField(blank=True, max_length=254)),
                ("attempt", models.PositiveIntegerField(default=0)),
                ("times_refused", models.PositiveSmallIntegerField(default=0)),
                ("times_uncertain", models.PositiveSmallIntegerField(default=0)),
                ("lease_until", models.DateTimeField(blank=True, null=True)),
                ("message_id", models.CharField(blank=True, max_length=120)),
                ("provider_id", models.CharField(blank=True, max_length=120)),
                ("handed_over_at", models.DateTimeField(blank=True, null=True)),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("reason", models.CharField(blank=True, max_length=120)),
                ("planned_at", models.DateTimeField()),
                (
                    "patient",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="messages",
                        to="clinic_patients.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_accounts.site",
                    ),
                ),
            ],
            options={
                "db_table": "due_message",
                "ordering": ["due_at", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("state__in", ["planned", "due", "claimed", "handing_over"])),
                        fields=["due_at", "id"],
                        name="due_message_open",
                    ),
                    models.Index(
                        condition=models.Q(("state__in", ["claimed", "handing_over"])),
                        fields=["lease_until"],
                        name="due_message_leased",
                    ),
                    models.Index(
                        condition=models.Q(("state__in", ["failed", "uncertain", "missed", "bounced"])),
                        fields=["site", "-settled_at"],
                        name="due_message_astray",
                    ),
                    models.Index(fields=["patient", "-due_at"], name="due_message_by_patient"),
                    models.Index(
                        condition=models.Q(("provider_id", ""), _negated=True),
                        fields=["provider_id"],
                        name="due_message_by_provider",
                    ),
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("subject_kind", "subject_id", "kind", "version", "step"), name="due_message_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "state__in",
                                [
                                    "planned",
                                    "due",
                                    "claimed",
                                    "handing_over",
                                    "handed_over",
                                    "delivered",
                                    "bounced",
                                    "failed",
                                    "uncertain",
                                    "missed",
                                    "cancelled",
                                ],
                            )
                        ),
                        name="due_message_state_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("not_after__gte", models.F("due_at"))), name="due_message_not_after"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("state__in", ["claimed", "handing_over"]), _negated=True),
                            ("lease_until__isnull", False),
                            _connector="OR",
                        ),
                        name="due_message_lease",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LetterBatch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("made_at", models.DateTimeField()),
                ("made_by", models.CharField(max_length=120)),
                ("posted_at", models.DateTimeField(blank=True, null=True)),
                ("posted_by", models.CharField(blank=True, max_length=120)),
                ("put_back_at", models.DateTimeField(blank=True, null=True)),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["made_at", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("posted_at", None), ("put_back_at", None)),
                        fields=["site", "made_at"],
                        name="letter_batch_open",
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("posted_at", None), ("put_back_at", None), _connector="OR"),
                        name="letter_batch_ends_once",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("posted_at", None), ("posted_by", "")),
                            models.Q(("posted_at__isnull", False), models.Q(("posted_by", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="letter_batch_posted_by_somebody",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="Call",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "why",
                    models.CharField(
                        choices=[
                            ("no_channel", "no e-mail or mobile number to write to"),
                            ("prefers", "wants to be called or written to on paper"),
                            ("failed", "the message could not be handed over"),
                            ("bounced", "mail to the address comes back"),
                            ("missed", "the message would have come too late"),
                            ("uncertain", "nobody knows whether the message went out"),
                            ("opted_out", "does not want such messages"),
                            ("other_person", "went to somebody else: two records had been joined by mistake"),
                        ],
                        max_length=12,
                    ),
                ),
                ("wanted_at", models.DateTimeField()),
                ("post_by", models.DateTimeField(blank=True, null=True)),
                ("settled_at", models.DateTimeField(blank=True, null=True)),
                ("settled_by", models.CharField(blank=True, max_length=120)),
                (
                    "outcome",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("reached", "reached"),
                            ("left_message", "left a message"),
                            ("wrong_number", "wrong number"),
                            ("wants_visit", "wants a visit"),
                            ("not_needed", "no longer needed"),
                            ("posted", "posted as a letter"),
                            ("gone", "not made: noted as died or moved away"),
                            ("unwanted", "no longer wanted by the patient"),
                            ("over", "not made: over by itself"),
                        ],
                        max_length=12,
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="calls", to="clinic_patients.patient"
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_accounts.site"
                    ),
                ),
                (
                    "message",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="call",
                        to="clinic_messages.duemessage",
                    ),
                ),
                (
                    "batch",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="calls",
                        to="clinic_messages.letterbatch",
                    ),
                ),
            ],
            options={
                "ordering": ["wanted_at", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("settled_at", None)), fields=["site", "wanted_at"], name="call_open"
                    )
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            (
                                "why__in",
                                [
                                    "no_channel",
                                    "prefers",
                                    "failed",
                                    "bounced",
                                    "missed",
                                    "uncertain",
                                    "opted_out",
                                    "other_person",
                                ],
                            )
                        ),
                        name="call_why_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("outcome", ""), ("settled_at", None)),
                            models.Q(
                                ("settled_at__isnull", False),
                                (
                                    "outcome__in",
                                    [
                                        "reached",
                                        "left_message",
                                        "wrong_number",
                                        "wants_visit",
                                        "not_needed",
                                        "posted",
                                        "gone",
                                        "unwanted",
                                        "over",
                                    ],
                                ),
                            ),
                            _connector="OR",
                        ),
                        name="call_settled_with_an_outcome",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="PrivateLink",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("purpose", models.CharField(max_length=24)),
                ("subject_kind", models.CharField(max_length=24)),
                ("subject_id", models.BigIntegerField()),
                ("token_hash", models.CharField(max_length=64, unique=True)),
                ("write_only", models.BooleanField(default=False)),
                ("made_at", models.DateTimeField()),
                ("opens_at", models.DateTimeField()),
                ("closes_at", models.DateTimeField()),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "ended_because",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("done", "its purpose is done"),
                            ("newer", "a newer link was made"),
                            ("birth_tries", "five wrong dates of birth"),
                            ("not_sent", "its message did not go out"),
                            ("taken_back", "taken back by the practice"),
                        ],
                        max_length=12,
                    ),
                ),
                ("birth_tries", models.PositiveSmallIntegerField(default=0)),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="links", to="clinic_patients.patient"
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
                "ordering": ["-made_at", "-pk"],
                "indexes": [models.Index(fields=["subject_kind", "subject_id", "purpose"], name="link_by_subject")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("closes_at__gt", models.F("opens_at"))), name="link_closes_later"
                    ),
                    models.CheckConstraint(condition=models.Q(("birth_tries__lte", 5)), name="link_five_birth_tries"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("ended_because", "")),
                            models.Q(
                                ("ended_at__isnull", False),
                                ("ended_because__in", ["done", "newer", "birth_tries", "not_sent", "taken_back"]),
                            ),
                            _connector="OR",
                        ),
                        name="link_ended_for_a_reason",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LinkVisit",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key_hash", models.CharField(max_length=64, unique=True)),
                ("began_at", models.DateTimeField()),
                ("expires_at", models.DateTimeField()),
                ("known_at", models.DateTimeField(blank=True, null=True)),
                ("code_passed_at", models.DateTimeField(blank=True, null=True)),
                ("code_hash", models.CharField(blank=True, max_length=64)),
                ("code_made_at", models.DateTimeField(blank=True, null=True)),
                ("code_tries", models.PositiveSmallIntegerField(default=0)),
                ("codes_asked", models.PositiveSmallIntegerField(default=0)),
                (
                    "link",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="visits",
                        to="clinic_messages.privatelink",
                    ),
                ),
                (
                    "opened_for",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_patients.patient",
                    ),
                ),
            ],
            options={
                "ordering": ["-began_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("expires_at__gt", models.F("began_at"))), name="visit_expires_later"
                    ),
                    models.CheckConstraint(condition=models.Q(("code_tries__lte", 5)), name="visit_five_code_tries"),
                    models.CheckConstraint(
                        condition=models.Q(("code_passed_at", None), ("known_at__isnull", False), _connector="OR"),
                        name="visit_known_before_code",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="TextReplies",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "rule",
                    models.CharField(
                        choices=[
                            ("by_country", "as this program knows the rules of the country"),
                            ("needed", "yes, they must be able to answer"),
                            ("not_needed", "no, we have looked it up"),
                        ],
                        default="by_country",
                        max_length=12,
                    ),
                ),
                (
                    "number",
                    clinic.accounts.phones.TelephoneField(
                        blank=True, max_length=128, region=None, verbose_name="number on which replies reach you"
                    ),
                ),
                ("said_at", models.DateTimeField()),
                ("said_by", models.CharField(max_length=120)),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "site",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="text_replies",
                        to="clinic_accounts.site",
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("rule__in", ["by_country", "needed", "not_needed"])),
                        name="text_replies_rule_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Wording",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(max_length=32)),
                (
                    "channel",
                    models.CharField(
                        choices=[
                            ("email", "e-mail"),
                            ("text", "text message"),
                            ("phone", "telephone call"),
                            ("letter", "letter"),
                        ],
                        max_length=8,
                    ),
                ),
                ("language", models.CharField(max_length=8)),
                ("number", models.PositiveIntegerField()),
                ("subject", models.CharField(blank=True, max_length=120, verbose_name="subject")),
                ("text", models.TextField(blank=True, max_length=4000, verbose_name="text")),
                ("written_at", models.DateTimeField()),
                (
                    "written_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["kind", "channel", "language", "number"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("kind", "channel", "language", "number"), name="wording_number_once"
                    ),
                    models.CheckConstraint(condition=models.Q(("number__gte", 1)), name="wording_number_from_1"),
                    models.CheckConstraint(
                        condition=models.Q(("channel__in", ["email", "text"])), name="wording_of_a_written_channel"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("subject", ""), ("text", "")),
                            models.Q(models.Q(("text", ""), _negated=True), ("channel", "text"), ("subject", "")),
                            models.Q(
                                models.Q(("text", ""), _negated=True),
                                models.Q(("subject", ""), _negated=True),
                                ("channel", "email"),
                            ),
                            _connector="OR",
                        ),
                        name="wording_whole_or_none",
                    ),
                ],
            },
        ),
    ]
