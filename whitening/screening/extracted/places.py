"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("European Union"),
    _("present or released, as used"),
    _(
        "The Official Journal text itself was not seen. Member states narrow it further. Who may work under supervision is this program's cautious reading: ask the dental council."
    ),
    _("United Kingdom"),
    _(
        "The regulator leaves an exception under 18 for use wholly to treat or prevent disease: a separate route outside this program."
    ),
    _("Ireland"),
    _(
        "The regulator rounds the carbamide figure to 17 %. Examination and consent are to be documented with care. The product is only for patients under the dentist's care."
    ),
    _("Switzerland"),
    _(
        "That carbamide counts as in the European Union is from memory. The excerpt says nothing about an examination. Sold only to dentists and diplomaed dental hygienists; whom they may supervise is this program's cautious reading."
    ),
    _("United States"),
    _("as used"),
    _(
        "That no cap and no age stand in law is from memory. Who may carry it out is this program's cautious reading: ask the state board."
    ),
    _("United States, with the rules of the practice’s own state"),
    _(
        "States differ: two were reported open to anybody, two for the dental team only, and the reports are old. Until the practice has written in what its state board says, only a dentist carries it out."
    ),
    _("Australia"),
    _(
        "Up to 6 % (18 % carbamide) may be sold freely; above that only a registered dental practitioner uses it, within their training. The seven days to think are for people under 18, whom this program does not plan for. Whether the guideline of 2025 covers whitening is not settled in the texts seen. Advertising is barred in most states."
    ),
    _("New Zealand"),
    _(
        "The two texts conflict: one lets others than dentists use 7 to 12 %, the other keeps everything above 7 % for registered oral health practitioners and those they supervise; both keep above 12 % under a dentist. What followed in 2013 was not found. Above 7 % is treated as the dental team's only: verify it."
    ),
    _("Canada"),
    _(
        "Whitening products are cosmetics unless they hold fluoride; they are notified, not approved. That 3 % may be sold freely is from memory; no cap for the practice was found. Who may carry it out is the province's matter: only a dentist, as this program's cautious reading."
    ),
    _("Canada, with the rules of the practice’s own province"),
    _(
        "Nothing here was seen in a text. Until the practice has written in what its college says, only a dentist carries it out."
    ),
    _("Japan"),
    _(
        "From memory: outside dental practices no peroxide is allowed, and office products are approved up to about 35 %. The practice pages name acatalasaemia as the absolute contraindication, pregnancy and breastfeeding as relative ones."
    ),
)
