from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate
from django.utils.translation import gettext_lazy as _


class PatientsConfig(AppConfig):
    name = "clinic.patients"
    label = "clinic_patients"
    verbose_name = _("Patients")

    def ready(self) -> None:
        from clinic.patients import trigrams, verbs
        from clinic.trail import guards

        post_migrate.connect(trigrams.ensure, sender=self)
        checks.register(trigrams.check, checks.Tags.database)
        guards.register(table="clinic_patients_contactchoice", update=False, delete=False)
        verbs.register()
