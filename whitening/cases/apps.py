from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class CasesConfig(AppConfig):
    name = "whitening.cases"
    label = "whitening_cases"
    verbose_name = _("Cases")

    def ready(self) -> None:
        from clinic.accounts import setup_pages
        from clinic.diary import standard
        from clinic.patients import hints, merging
        from clinic.trail import guards
        from whitening.cases import joining, missing, verbs, visits, wording

        guards.register(table="whitening_cases_plan", update=False, delete=False)
        guards.register(table="whitening_cases_shadereading", update=False, delete=False)
        guards.register(table="whitening_cases_shadecorrection", update=False, delete=False)
        hints.register_birth_hint(wording.age_sentence)
        for page in missing.PAGES:
            setup_pages.register(page)
        standard.register(visits.STANDARD_VISITS)
        merging.register(joining.ROOM)
        verbs.register()
