from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ScreeningConfig(AppConfig):
    name = "whitening.screening"
    label = "whitening_screening"
    verbose_name = _("Screening")

    def ready(self) -> None:
        from clinic.accounts import jurisdictions as chosen
        from clinic.accounts import setup_pages
        from clinic.diary import before as before_visit
        from clinic.diary import local_rules
        from clinic.patients import merging
        from clinic.trail import guards
        from whitening.screening import before, cycles, joining, jurisdictions, letters, missing, question_sheet, verbs

        tables = ("answerset", "examinationrecord", "decision", "assessmentsignature", "reask", "reaskdecision")
        for table in (*tables, "letter", "letterreply", "localrulechange"):
            guards.register(table=f"whitening_screening_{table}")
        before_visit.register(before.todos, missing=before.missing)
        local_rules.register(cycles.rulings)
        for code, name in jurisdictions.choices():
            chosen.register(code, name)
        setup_pages.register(missing.PAGE)
        merging.register(joining.ROOM)
        question_sheet.register()
        letters.register()
        verbs.register()
