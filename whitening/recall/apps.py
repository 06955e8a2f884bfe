from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class RecallConfig(AppConfig):
    name = "whitening.recall"
    label = "whitening_recall"
    verbose_name = _("Follow-ups")

    def ready(self) -> None:
        from clinic.diary import behind, earliest
        from clinic.documents import kinds as documents
        from clinic.trail import guards
        from whitening.chairside import registries
        from whitening.recall import closing, kinds, verbs, visits

        for table in ("reply", "attempt", "review", "raising"):
            guards.register(table=f"whitening_recall_{table}")
        documents.register(
            documents.DocumentKind(
                code="aftercare",
                word=_("aftercare sheet"),
                clinical=False,
                template="documents/aftercare.html",
                version=1,
            )
        )
        registries.register_on_closed(closing.after_session)
        earliest.register(visits.limit)
        behind.register(visits.behind)
        kinds.register()
        verbs.register()
