from django.utils.translation import gettext_lazy as _

VERBS = {
    "documents.issued": _("issued a document"),
    "documents.printed": _("printed a working list"),
    "documents.filed": _("filed a paper that came in"),
    "documents.filed_by_mistake": _("noted that a paper was filed by mistake"),
}
