from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class CasebookConfig(AppConfig):
    name = "whitening.casebook"
    label = "whitening_casebook"
    verbose_name = _("Casebook")

    def ready(self) -> None:
        from clinic.diary import confirming as diary_confirming
        from clinic.diary import marks, waiting
        from clinic.patients import hints
        from whitening.casebook import booking_marks, confirming, early, sections
        from whitening.casebook.going_on import against_going_on
        from whitening.chairside import registries

        marks.register(booking_marks.marks)
        diary_confirming.register(confirming.confirm_session)
        waiting.register(early.waits_until)
        hints.register_section(sections.CASES)
        registries.register_gate_check(against_going_on)
