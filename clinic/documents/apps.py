from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from clinic.documents import kinds
from clinic.documents.verbs import VERBS
from clinic.trail import guards, verbs

APPOINTMENT_SLIP = kinds.DocumentKind(
    code="appointment_slip",
    word=_("appointment slip"),
    clinical=False,
    template="documents/appointment_slip.html",
    version=1,
)


class DocumentsConfig(AppConfig):
    name = "clinic.documents"
    label = "clinic_documents"
    verbose_name = _("Documents")

    def ready(self) -> None:
        verbs.register(VERBS)
        kinds.register(APPOINTMENT_SLIP)
        guards.register(table="clinic_documents_issueddocument")
