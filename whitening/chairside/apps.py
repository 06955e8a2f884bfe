from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

# Tables whose rows are written once.
APPEND_ONLY = ("sessionevent", "identitycheck", "lightcheck", "batchuse", "incident", "incidentstep")


class ChairsideConfig(AppConfig):
    name = "whitening.chairside"
    label = "whitening_chairside"
    verbose_name = _("Chairside")

    def ready(self) -> None:
        from clinic.accounts import setup_pages
        from clinic.diary import under_way, usual
        from clinic.patients import merging
        from clinic.trail import guards
        from whitening.chairside import joining, session_record, setup_entries, verbs, visits
        from whitening.chairside.actions import asked
        from whitening.chairside.timings import ChairsideLengths
        from whitening.screening import running

        for table in APPEND_ONLY:
            guards.register(table=f"whitening_chairside_{table}", update=False, delete=False)
        # A hold ends once; what was held, by whom and why stays as it was written.
        guards.register(
            table="whitening_chairside_batchhold",
            update=False,
            delete=False,
            allow_columns=("released_at", "released_by_id", "released_because"),
        )
        for page in setup_entries.PAGES:
            setup_pages.register(page)
        running.register(asked)
        usual.register(ChairsideLengths())
        under_way.register(visits.open_record)
        merging.register(joining.ROOM)
        session_record.register()
        verbs.register()
