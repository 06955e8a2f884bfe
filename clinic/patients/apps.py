from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class PatientsConfig(AppConfig):
    name = "clinic.patients"
    label = "clinic_patients"
    verbose_name = _("Patients")

    def ready(self) -> None:
        from clinic.patients import verbs
        from clinic.trail import guards

        guards.register(table="clinic_patients_contactchoice", update=False, delete=False)
        verbs.register()
