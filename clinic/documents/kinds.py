"""The kinds of document this installation issues. Each part registers its own in `AppConfig.ready`."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.accounts.rights import Capability

_CODE = re.compile(r"[a-z][a-z0-9_]{1,39}")


class UnknownKind(LookupError):
    """A programming error, not a refusal: the kind was never registered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentKind:
    code: str
    # What the public check says ("appointment slip"), so it may name nothing clinical.
    word: str | Promise
    # Reading it needs the right to clinical papers, and to what it tells of.
    clinical: bool
    template: str
    # Goes up with every change of the template's words, so that a sheet says which wording it had.
    version: int
    # A working paper about many people, out of date tomorrow: noted in the trail, and its bytes are not archived,
    # where each of them would stay named after their own record is erased.
    kept: bool = True
    # What a clinical one tells of: who may read that elsewhere may read it on paper too.
    tells_of: Capability = Capability.ANSWERS_READ


_kinds: dict[str, DocumentKind] = {}


def register(kind: DocumentKind) -> None:
    if not _CODE.fullmatch(kind.code) or kind.version < 1:
        raise ValueError(f"{kind.code!r}, version {kind.version}: use a lower-case code and a version from 1 up.")
    if _kinds.get(kind.code, kind) != kind:
        raise ValueError(f"The kind of document {kind.code!r} is registered twice with different contents.")
    _kinds[kind.code] = kind


def get(code: str) -> DocumentKind:
    try:
        return _kinds[code]
    except KeyError:
        raise UnknownKind(f"The kind of document {code!r} is not registered.") from None


def registered() -> Mapping[str, DocumentKind]:
    return dict(_kinds)


def is_clinical(code: str) -> bool:
    """A kind that is no longer registered counts as clinical: closed rather than open by mistake."""
    return code not in _kinds or _kinds[code].clinical


def read_with(code: str) -> tuple[Capability, ...]:
    """What one of this kind asks of its reader, beside handing out papers."""
    if not is_clinical(code):
        return ()
    told = _kinds[code].tells_of if code in _kinds else Capability.ANSWERS_READ
    return (Capability.CLINICAL_DOCUMENTS_READ, told)


def word_of(code: str) -> str | Promise:
    return _kinds[code].word if code in _kinds else _("document")
