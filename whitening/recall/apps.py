from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class RecallConfig(AppConfig):
    name = "whitening.recall"
    label = "whitening_recall"
    verbose_name = _("Follow-ups")

    def ready(self) -> None:
        from clinic.diary import behind, earliest
        from clinic.patients import leaving, merging
        from clinic.trail import guards
        from whitening.chairside import registries
        from whitening.recall import (
            aftercare,
            asking_back,
            check_letter,
            closing,
            joining,
            kinds,
            result_letter,
            result_link,
            verbs,
            visits,
        )
        from whitening.recall.actions.ending import begin_again, end_for

        for table in ("reply", "attempt", "review", "raising"):
            guards.register(table=f"whitening_recall_{table}")
        for paper in (aftercare, check_letter, result_letter):
            paper.register()
        registries.register_on_closed(closing.after_session)
        registries.register_on_late(closing.after_late_entry)
        earliest.register(visits.limit)
        behind.register(visits.behind)
        merging.register(joining.ROOM)
        leaving.register("recall", ender=end_for, restorer=begin_again)
        kinds.register()
        result_link.register()
        asking_back.register()
        verbs.register()
