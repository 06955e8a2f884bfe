"""No clinical word in a text message or an e-mail subject: they are shown on locked screens.

The lists are our own (common practice, no source). The names on a practice's signs are never searched, since
"Dental" stands there anyway. One rule serves what a practice words itself and whatever goes out.
"""

import re
from collections.abc import Iterable

from clinic.messages.unseen import as_read

# A star behind stands for any ending, one in front for any beginning too; without them the whole word is meant.
_LISTS: dict[str, str] = {
    "en": (
        "aftercare allerg* anaesth* antibiot* bleach* bleed* blister* bruis* burn* clinical consent* cosmetic* "
        "diagnos* disease* enamel examin* filling* gel gels gum gums hazard* health* hurt* ill illness* incident* "
        "inflam* lip lips medic* mouth* numb pain* peroxid* photo* pregnan* prescri* questionnaire* reaction* "
        "sensitiv* shade* sore* surger* surgical* swell* swollen symptom* teeth* therap* tooth* treat* veneer* "
        "whiten* whiter wound*"
    ),
    "es": (
        "alerg* aclara* anestes* antibiot* blanque* boca clínic* consentim* diagnós* diagnost* diente* dolor* duele* "
        "embaraz* encía* enfermed* esmalte foto* gel herida* hincha* inflam* labio* medic* médic* peróxid* quemad* "
        "receta* salud sangr* sensib* síntoma* tono tratamient*"
    ),
    "de": (
        "allerg* antibiot* anästhes* *aufhell* aufklär* *behandl* *bleich* blut* diagnos* einwillig* empfindlich* "
        "*entzünd* erkrank* foto* füllung* gel gesund* klinisch* krank* lippe* medizin* medikament* mund mundgesund* "
        "mundhöhl* mundhyg* mundpfleg* mundspül* *peroxid* *rezept* *schmerz* "
        "schwanger* schwell* symptom* verbrenn* weh weiß* wunde* *zahn* *zähn*"
    ),
    "ar": (
        "ألم ألما أسنان أسنانك سن تبييض تبيض بيروكسيد لثة لثتك شفة فم فمك حساسية علاج "
        "مرض دواء أعراض حمل تخدير نزيف تورم موافقة صحة صورة"
    ),
}
# As the words of a text are compared: ß as ss.
_FOLDED = {code: words.casefold().split() for code, words in _LISTS.items()}
WHOLE = {code: frozenset(w for w in words if not w.endswith("*")) for code, words in _FOLDED.items()}
STEMS = {code: tuple(w.strip("*") for w in words if w.endswith("*")) for code, words in _FOLDED.items()}
_INSIDE = {code: tuple(w.strip("*") for w in words if w.startswith("*")) for code, words in _FOLDED.items()}
# Begins like a clinical word, and is the front desk.
_PLAIN = {"de": ("rezeption",)}
_WORD = re.compile(r"\w+")
_ADDRESS = re.compile(r"https?://\S+")
# Joined to the front of Arabic words: and, the, with, for, as, then.
_ARABIC_FRONT = re.compile(r"^(?:[وفبكل]?ال|لل|[وفبكل])")


def clinical_words(text: str, language: str, *, except_for: Iterable[str] = ()) -> list[str]:
    """The offending words, each once, in the order they stand. except_for: the names on the practice's signs."""
    plain = _ADDRESS.sub(" ", as_read(text))
    for name in sorted(map(as_read, except_for), key=len, reverse=True):
        plain = _without(plain, name)
    # English is searched in every language: an untranslated wording comes out in English.
    languages = {"en", language.split("-", maxsplit=1)[0]} & STEMS.keys()
    found = (word for word in _WORD.findall(plain) if any(_is_clinical(word, code) for code in languages))
    return list(dict.fromkeys(found))


def _without(text: str, name: str) -> str:
    """Whatever its capitals and spaces, and never out of the middle of a word."""
    words = [re.escape(word) for word in name.split()]
    if not words:
        return text
    return re.sub(r"(?<!\w)" + r"\s+".join(words) + r"(?!\w)", " ", text, flags=re.IGNORECASE)


def _is_clinical(word: str, language: str) -> bool:
    folded = word.casefold()
    bare = _ARABIC_FRONT.sub("", folded) if language == "ar" else folded
    if folded.startswith(_PLAIN.get(language, ())):
        return False
    if folded in WHOLE[language] or bare in WHOLE[language] or folded.startswith(STEMS[language]):
        return True
    return any(stem in folded for stem in _INSIDE[language])
