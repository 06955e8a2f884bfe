from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ConsentConfig(AppConfig):
    name = "whitening.consent"
    label = "whitening_consent"
    verbose_name = _("Consent")

    def ready(self) -> None:
        from clinic.accounts import setup_pages
        from clinic.accounts.rights import Capability
        from clinic.diary import before as before_visit
        from clinic.documents import kinds
        from clinic.trail import guards
        from whitening.consent import before, missing, preparing_sheet, quotes, verbs
        from whitening.consent.actions import printing

        for table in (
            "talk",
            "consenttext",
            "signature",
            "interpretersignature",
            "paperreading",
            "papercheck",
            "paperwithdrawal",
            "countersignature",
            "withdrawal",
            "photochoice",
            "quote",
            "deposit",
            "ownwording",
            "wordinguse",
            "translationcheck",
        ):
            guards.register(table=f"whitening_consent_{table}")
        kinds.register(
            kinds.DocumentKind(
                code="consent",
                word=_("consent"),
                clinical=True,
                template="documents/consent.html",
                version=1,
                tells_of=Capability.CONSENT_READ,
            )
        )
        printing.register()
        preparing_sheet.register()
        quotes.register()
        before_visit.register(before.preparations, missing=before_visit.only_offers)
        before_visit.register(before.todos, missing=before.missing)
        setup_pages.register(missing.PAGE)
        verbs.register()
