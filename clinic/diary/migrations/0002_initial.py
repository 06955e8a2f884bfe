import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("clinic_accounts", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("clinic_diary", "0001_initial"),
        ("clinic_patients", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="booking",
            name="patient",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="bookings", to="clinic_patients.patient"
            ),
        ),
        migrations.AddField(
            model_name="booking",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="bookings", to="clinic_accounts.site"
            ),
        ),
        migrations.AddField(
            model_name="closure",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="closures", to="clinic_accounts.site"
            ),
        ),
        migrations.AddField(
            model_name="resource",
            name="person",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="resources",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="resource",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="resources", to="clinic_accounts.site"
            ),
        ),
        migrations.AddField(
            model_name="closure",
            name="resource",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="closures",
                to="clinic_diary.resource",
            ),
        ),
        migrations.AddField(
            model_name="resourceclaim",
            name="booking",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="claims", to="clinic_diary.booking"
            ),
        ),
        migrations.AddField(
            model_name="resourceclaim",
            name="resource",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="claims", to="clinic_diary.resource"
            ),
        ),
        migrations.AddField(
            model_name="segmentneed",
            name="segment",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="needs", to="clinic_diary.segment"
            ),
        ),
        migrations.AddField(
            model_name="visittype",
            name="site",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="visit_types", to="clinic_accounts.site"
            ),
        ),
        migrations.AddField(
            model_name="segment",
            name="visit_type",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="segments", to="clinic_diary.visittype"
            ),
        ),
        migrations.AddField(
            model_name="booking",
            name="visit_type",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="bookings", to="clinic_diary.visittype"
            ),
        ),
        migrations.AddField(
            model_name="workingpattern",
            name="resource",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="patterns", to="clinic_diary.resource"
            ),
        ),
        migrations.AddField(
            model_name="resource",
            name="without_visits",
            field=models.ManyToManyField(
                blank=True,
                related_name="+",
                to="clinic_diary.visittype",
                verbose_name="visits that this person does not do",
            ),
        ),
        migrations.AddConstraint(
            model_name="resource",
            constraint=models.UniqueConstraint(fields=("site", "kind", "name"), name="resource_name_once"),
        ),
        migrations.AddConstraint(
            model_name="resource",
            constraint=models.UniqueConstraint(
                condition=models.Q(("person__isnull", False)), fields=("site", "person"), name="resource_person_once"
            ),
        ),
        migrations.AddConstraint(
            model_name="resource",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "person"), ("person__isnull", False)),
                    models.Q(models.Q(("kind", "person"), _negated=True), ("person__isnull", True)),
                    _connector="OR",
                ),
                name="resource_person_is_a_person",
            ),
        ),
        migrations.AddConstraint(
            model_name="resource",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("kind", "light"), models.Q(("light_kind", ""), _negated=True)),
                    models.Q(models.Q(("kind", "light"), _negated=True), ("light_kind", "")),
                    _connector="OR",
                ),
                name="resource_light_has_a_kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="closure",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="closure_ends_later"
            ),
        ),
        migrations.AddConstraint(
            model_name="closure",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("kind", "training"),
                    models.Q(("kind__in", ["leave", "out_of_use"]), ("resource__isnull", False)),
                    models.Q(("kind__in", ["closed", "holiday"]), ("resource__isnull", True)),
                    _connector="OR",
                ),
                name="closure_kind_fits_whom",
            ),
        ),
        migrations.AddIndex(
            model_name="resourceclaim",
            index=models.Index(
                condition=models.Q(("active", True)),
                fields=["resource", "start_at", "end_at"],
                name="claim_by_resource",
            ),
        ),
        migrations.AddConstraint(
            model_name="resourceclaim",
            constraint=models.CheckConstraint(
                condition=models.Q(("end_at__gt", models.F("start_at"))), name="claim_ends_later"
            ),
        ),
        migrations.AddConstraint(
            model_name="segmentneed",
            constraint=models.UniqueConstraint(fields=("segment", "need"), name="segment_need_once"),
        ),
        migrations.AddConstraint(
            model_name="segmentneed",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "need__in",
                        ["room", "clinician", "examiner", "assistant", "light_hand_held", "light_arch", "light_any"],
                    )
                ),
                name="segment_need_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="visittype",
            constraint=models.UniqueConstraint(fields=("site", "name"), name="visit_type_name_once"),
        ),
        migrations.AddConstraint(
            model_name="visittype",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "code__in",
                        [
                            "consultation",
                            "treatment",
                            "review",
                            "problem",
                            "hygiene",
                            "impressions",
                            "fitting",
                            "other",
                        ],
                    )
                ),
                name="visit_type_code_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="visittype",
            constraint=models.CheckConstraint(
                condition=models.Q(("patient_days_ahead__gte", 1), ("patient_days_ahead__lte", 730)),
                name="visit_type_days_ahead_1_to_730",
            ),
        ),
        migrations.AddConstraint(
            model_name="visittype",
            constraint=models.CheckConstraint(
                condition=models.Q(("patient_notice_hours__lte", 336)), name="visit_type_notice_at_most_14_days"
            ),
        ),
        migrations.AddConstraint(
            model_name="segment",
            constraint=models.UniqueConstraint(fields=("visit_type", "position"), name="segment_position_once"),
        ),
        migrations.AddConstraint(
            model_name="segment",
            constraint=models.CheckConstraint(
                condition=models.Q(("minutes__gte", 1), ("minutes__lte", 480)), name="segment_minutes_1_to_480"
            ),
        ),
        migrations.AddIndex(
            model_name="booking",
            index=models.Index(fields=["site", "starts_at"], name="booking_by_site_start"),
        ),
        migrations.AddIndex(
            model_name="booking",
            index=models.Index(fields=["patient", "starts_at"], name="booking_by_patient_start"),
        ),
        migrations.AddIndex(
            model_name="booking",
            index=models.Index(
                condition=models.Q(("lapses_at__isnull", False)),
                fields=["status", "lapses_at"],
                name="booking_by_lapse",
            ),
        ),
        migrations.AddConstraint(
            model_name="booking",
            constraint=models.CheckConstraint(
                condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="booking_ends_later"
            ),
        ),
        migrations.AddConstraint(
            model_name="booking",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "status__in",
                        [
                            "proposed",
                            "pending",
                            "booked",
                            "arrived",
                            "fulfilled",
                            "cancelled",
                            "noshow",
                            "entered-in-error",
                            "checked-in",
                            "waitlist",
                        ],
                    )
                ),
                name="booking_status_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="booking",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "why__in",
                        [
                            "",
                            "ill",
                            "other-duties",
                            "changed-mind",
                            "misunderstood",
                            "staff-away",
                            "room-or-light",
                            "not-ready",
                        ],
                    )
                ),
                name="booking_why_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="booking",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("status__in", ["proposed", "pending"]), _negated=True),
                    ("lapses_at__isnull", False),
                    _connector="OR",
                ),
                name="booking_not_settled_lapses",
            ),
        ),
        migrations.AddConstraint(
            model_name="booking",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("status", "cancelled"), _negated=True), ("cancelled_at__isnull", False), _connector="OR"
                ),
                name="booking_cancelled_when",
            ),
        ),
        migrations.AddConstraint(
            model_name="workingpattern",
            constraint=models.CheckConstraint(condition=models.Q(("weekday__lte", 6)), name="pattern_weekday_0_to_6"),
        ),
        migrations.AddConstraint(
            model_name="workingpattern",
            constraint=models.CheckConstraint(
                condition=models.Q(("to_time__gt", models.F("from_time"))), name="pattern_ends_later"
            ),
        ),
        migrations.AddConstraint(
            model_name="workingpattern",
            constraint=models.CheckConstraint(
                condition=models.Q(("until_on", None), ("until_on__gt", models.F("from_on")), _connector="OR"),
                name="pattern_until_after_from",
            ),
        ),
        migrations.AddConstraint(
            model_name="workingpattern",
            constraint=models.CheckConstraint(
                condition=models.Q(("every_weeks__in", (1, 2))), name="pattern_every_1_or_2_weeks"
            ),
        ),
        migrations.CreateModel(
            name="CalendarFeed",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("label", models.CharField(blank=True, max_length=60, verbose_name="where it is used")),
                ("with_initials", models.BooleanField(default=False, verbose_name="patients' initials")),
                ("token_hash", models.CharField(max_length=64, unique=True)),
                ("made_at", models.DateTimeField(verbose_name="made")),
                ("last_fetched_at", models.DateTimeField(blank=True, null=True, verbose_name="last fetched")),
                ("revoked_at", models.DateTimeField(blank=True, null=True, verbose_name="taken back")),
                ("revoked_by", models.CharField(blank=True, max_length=120)),
                (
                    "made_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "resource",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="calendar_feeds",
                        to="clinic_diary.resource",
                    ),
                ),
            ],
            options={
                "ordering": ["resource", "made_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("token_hash__regex", "^[0-9a-f]{64}$")), name="calendar_feed_hash_shape"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("revoked_at", None), ("revoked_at__gte", models.F("made_at")), _connector="OR"
                        ),
                        name="calendar_feed_ends_later",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("revoked_at", None), ("revoked_by", "")),
                            models.Q(("revoked_at__isnull", False), models.Q(("revoked_by", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="calendar_feed_ended_by",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="LateQuestion",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("was_at", models.DateTimeField()),
                ("here_at", models.DateTimeField()),
                ("asked_at", models.DateTimeField()),
                ("asked_by", models.CharField(max_length=120)),
                (
                    "answer",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "not answered yet"),
                            ("fit", "begin with what fits"),
                            ("move", "find another time"),
                        ],
                        default="",
                        max_length=8,
                    ),
                ),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                ("answered_by", models.CharField(blank=True, max_length=120)),
                (
                    "booking",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="late_questions",
                        to="clinic_diary.booking",
                    ),
                ),
            ],
            options={
                "ordering": ["asked_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("answer__in", ["", "fit", "move"])), name="late_answer_known"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", ""), ("answered_at", None)),
                            models.Q(
                                models.Q(("answer", ""), _negated=True), models.Q(("answered_at", None), _negated=True)
                            ),
                            _connector="OR",
                        ),
                        name="late_answered_when",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("answer", "")), fields=("booking",), name="late_question_open_once"
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WaitingWish",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("cycles", models.PositiveSmallIntegerField(default=0, verbose_name="planned cycles")),
                ("light_kind", models.CharField(blank=True, default="", max_length=12)),
                ("weekdays", models.CharField(blank=True, default="", max_length=7)),
                ("not_before", models.TimeField(blank=True, null=True, verbose_name="not before")),
                ("over_by", models.TimeField(blank=True, null=True, verbose_name="over by")),
                ("notice_hours", models.PositiveSmallIntegerField(default=0, verbose_name="notice needed, in hours")),
                ("since_on", models.DateField(verbose_name="waiting since")),
                ("until_on", models.DateField(blank=True, null=True, verbose_name="last day that suits")),
                ("added_at", models.DateTimeField()),
                ("added_by", models.CharField(max_length=120)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "ended_because",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("booked", "has the time now"),
                            ("removed", "taken off the list by the practice"),
                            ("left", "asked to be taken off the list"),
                            ("over", "the last day that suited has passed"),
                            ("visit-gone", "the visit that was to move up does not stand any more"),
                        ],
                        max_length=12,
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1)),
                (
                    "booking",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="waiting_wishes",
                        to="clinic_diary.booking",
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="waiting_wishes",
                        to="clinic_patients.patient",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="clinic_diary.resource",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="waiting_wishes",
                        to="clinic_accounts.site",
                    ),
                ),
                (
                    "visit_type",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_diary.visittype"
                    ),
                ),
            ],
            options={
                "ordering": ["since_on", "pk"],
                "indexes": [
                    models.Index(
                        condition=models.Q(("ended_at", None)), fields=["site", "since_on"], name="wish_waiting"
                    ),
                    models.Index(fields=["patient"], name="wish_by_patient"),
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("weekdays__regex", "^0?1?2?3?4?5?6?$")), name="wish_weekdays_once_in_order"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("over_by", None),
                            ("not_before", None),
                            ("over_by__gt", models.F("not_before")),
                            _connector="OR",
                        ),
                        name="wish_over_later",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("until_on", None), ("until_on__gte", models.F("since_on")), _connector="OR"
                        ),
                        name="wish_ends_later",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("notice_hours__lte", 336)), name="wish_notice_up_to_two_weeks"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("ended_because", "")),
                            models.Q(
                                ("ended_at__isnull", False),
                                ("ended_because__in", ["booked", "removed", "left", "over", "visit-gone"]),
                            ),
                            _connector="OR",
                        ),
                        name="wish_ended_for_a_reason",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("booking__isnull", False), ("ended_at", None)),
                        fields=("booking",),
                        name="wish_one_per_visit",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="WaitingOffer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                ("offered_at", models.DateTimeField()),
                ("answer_by", models.DateTimeField()),
                ("is_clear", models.BooleanField(default=True)),
                ("clear_words", models.CharField(blank=True, max_length=200)),
                (
                    "answer",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("", "waits for an answer"),
                            ("yes", "took it"),
                            ("no", "no thanks"),
                            ("left", "no thanks, and off the list"),
                            ("lapsed", "no answer in time"),
                            ("withdrawn", "taken back by the practice"),
                        ],
                        default="",
                        max_length=12,
                    ),
                ),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                ("answered_by", models.CharField(blank=True, max_length=120)),
                (
                    "booking",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="waiting_offer",
                        to="clinic_diary.booking",
                    ),
                ),
                (
                    "wish",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="offers",
                        to="clinic_diary.waitingwish",
                    ),
                ),
            ],
            options={
                "ordering": ["starts_at", "pk"],
                "indexes": [
                    models.Index(condition=models.Q(("answer", "")), fields=["answer_by"], name="offer_unsettled")
                ],
                "constraints": [
                    models.UniqueConstraint(
                        condition=models.Q(("answer", "")), fields=("wish",), name="offer_one_at_a_time"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("answer_by__gt", models.F("offered_at"))), name="offer_leaves_time"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="offer_ends_later"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("answer", ""), ("answered_at", None)),
                            models.Q(
                                ("answered_at__isnull", False),
                                ("answer__in", ["yes", "no", "left", "lapsed", "withdrawn"]),
                            ),
                            _connector="OR",
                        ),
                        name="offer_answered_when",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="FreedTime",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("starts_at", models.DateTimeField()),
                ("ends_at", models.DateTimeField()),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="clinic_accounts.site"
                    ),
                ),
            ],
            options={
                "ordering": ["starts_at", "pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("ends_at__gt", models.F("starts_at"))), name="freed_ends_later"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="TimeInvitation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("cycles", models.PositiveSmallIntegerField(default=0, verbose_name="planned cycles")),
                ("light_kind", models.CharField(blank=True, default="", max_length=12)),
                ("made_at", models.DateTimeField(verbose_name="sent")),
                ("made_by", models.CharField(max_length=120)),
                ("closes_at", models.DateTimeField(verbose_name="works until")),
                ("times_sent", models.PositiveSmallIntegerField(default=1)),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "ended_because",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("picked", "a time was picked"),
                            ("taken_back", "taken back"),
                            ("ran_out", "ran out"),
                            ("booked_otherwise", "the visit was booked otherwise"),
                        ],
                        max_length=16,
                    ),
                ),
                (
                    "booking",
                    models.OneToOneField(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="invitation",
                        to="clinic_diary.booking",
                    ),
                ),
                (
                    "patient",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="time_invitations",
                        to="clinic_patients.patient",
                    ),
                ),
                (
                    "site",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_accounts.site"
                    ),
                ),
                (
                    "visit_type",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic_diary.visittype"
                    ),
                ),
            ],
            options={
                "ordering": ["-made_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("closes_at__gt", models.F("made_at"))), name="invitation_closes_later"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("ended_at", None), ("ended_because", "")),
                            models.Q(
                                ("ended_at__isnull", False),
                                ("ended_because__in", ["picked", "taken_back", "ran_out", "booked_otherwise"]),
                            ),
                            _connector="OR",
                        ),
                        name="invitation_ended_for_a_reason",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("booking", None), ("ended_because", "picked"), _connector="XOR"),
                        name="invitation_picked_is_booked",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("ended_at", None)),
                        fields=("patient", "visit_type"),
                        name="invitation_one_open_per_visit",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="OwnChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "act",
                    models.CharField(
                        choices=[
                            ("picked", "picked this time"),
                            ("kept", "said that they come"),
                            ("moved", "moved it"),
                            ("cancelled", "cancelled it"),
                        ],
                        max_length=12,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("was_at", models.DateTimeField(blank=True, null=True)),
                ("seen_at", models.DateTimeField(blank=True, null=True)),
                ("seen_by", models.CharField(blank=True, max_length=120)),
                (
                    "booking",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="own_changes",
                        to="clinic_diary.booking",
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
                "ordering": ["at", "pk"],
                "indexes": [
                    models.Index(condition=models.Q(("seen_at", None)), fields=["site", "at"], name="own_change_unseen")
                ],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("act__in", ["picked", "kept", "moved", "cancelled"])),
                        name="own_change_known",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("act", "moved"), ("was_at__isnull", False)),
                            models.Q(models.Q(("act", "moved"), _negated=True), ("was_at", None)),
                            _connector="OR",
                        ),
                        name="own_change_moved_from",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("seen_at", None), ("seen_by", "")),
                            models.Q(("seen_at__isnull", False), models.Q(("seen_by", ""), _negated=True)),
                            _connector="OR",
                        ),
                        name="own_change_seen_by",
                    ),
                ],
            },
        ),
    ]
