from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate
from django.utils.translation import gettext_lazy as _


class DiaryConfig(AppConfig):
    name = "clinic.diary"
    label = "clinic_diary"
    verbose_name = _("Diary")

    def ready(self) -> None:
        from clinic.accounts import own_pages, setup_pages
        from clinic.diary import cancelled_since, joining, kinds, missing, overlap, patient_visits, slip, verbs
        from clinic.diary.waitlist import kinds as waitlist_kinds
        from clinic.diary.waitlist import section
        from clinic.documents import kinds as documents
        from clinic.patients import hints, leaving, merging

        post_migrate.connect(overlap.ensure, sender=self)
        checks.register(overlap.check, checks.Tags.database)
        for page in missing.PAGES:
            setup_pages.register(page)
        own_pages.register(missing.OWN_CALENDARS)
        kinds.register()
        waitlist_kinds.register()
        hints.register_section(section.WAITING)
        hints.register_section(patient_visits.VISITS)
        documents.register(
            documents.DocumentKind(
                code="day_list",
                word=_("day list"),
                clinical=False,
                template="documents/day_list.html",
                version=1,
                kept=False,
            )
        )
        leaving.register("diary", restorer=cancelled_since.lost_since)
        merging.register(joining.ROOM)
        slip.register()
        verbs.register()
