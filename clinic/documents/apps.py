from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class DocumentsConfig(AppConfig):
    name = "clinic.documents"
    label = "clinic_documents"
    verbose_name = _("Documents")

    def ready(self) -> None:
        from clinic.documents import archive, incoming, kinds, sections
        from clinic.documents.verbs import VERBS
        from clinic.patients import hints
        from clinic.trail import guards, verbs
        from clinic.trail.backup import files

        verbs.register(VERBS)
        for table in ("issueddocument", "incomingpaper", "papermistake"):
            guards.register(table=f"clinic_documents_{table}")
        files.register("documents", archive.referenced)
        files.register("incoming", incoming.referenced)
        hints.register_section(sections.SECTION)
        kinds.register(
            kinds.DocumentKind(
                code="appointment_slip",
                word=_("appointment slip"),
                clinical=False,
                template="documents/appointment_slip.html",
                version=1,
            )
        )
