"""Issuing a document: draw it, keep its bytes, write the row and the trail."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypedDict

from django.db import transaction
from django.utils.functional import Promise

from clinic.accounts.languages import speaking, spoken
from clinic.accounts.models import Site
from clinic.documents import archive, codes, framing, kinds, paper, rendering
from clinic.documents.jobs import Drawing
from clinic.documents.models import IssuedDocument
from clinic.patients.models import Patient
from clinic.trail.actor import Actor
from clinic.trail.record import record


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A drawn sheet that nobody has been given yet."""

    kind: kinds.DocumentKind
    site: Site
    patient: Patient | None
    language: str
    title: str
    large_print: bool
    code: str
    drawing: Drawing
    at: datetime
    words_sha256: str = ""


class Said(TypedDict):
    """What decides on the words of a sheet: for `words_of`, and then for `issue`."""

    kind: str
    patient: Patient | None
    site: Site
    context: Mapping[str, object]
    language: str
    title: str | Promise
    now: datetime
    large_print: bool


def issue(
    *,
    kind: str,
    patient: Patient | None,
    site: Site,
    context: Mapping[str, object],
    language: str,
    title: str | Promise,
    subject: tuple[str, int | str],
    actor: Actor,
    now: datetime,
    template: str = "",
    large_print: bool = False,
    words_sha256: str = "",
) -> IssuedDocument:
    """Draw and file in one go. Inside another action's transaction, call `prepare` before it begins
    and `file_away` within: drawing takes up to a minute, and the database would wait that long.

    words_sha256: as `words_of` gave it, for a kind that is made anew once it would say something else.
    """
    prepared = prepare(
        kind=kind,
        patient=patient,
        site=site,
        context=context,
        language=language,
        title=title,
        now=now,
        template=template,
        large_print=large_print,
    )
    with transaction.atomic():
        return file_away(replace(prepared, words_sha256=words_sha256), subject=subject, actor=actor)


def words_of(
    *,
    kind: str,
    patient: Patient | None,
    site: Site,
    context: Mapping[str, object],
    language: str,
    title: str | Promise,
    now: datetime,
    large_print: bool = False,
) -> str:
    """A hash over what such a sheet would say, whenever and however often it is issued. Draws and writes nothing."""
    form = kinds.get(kind)
    with speaking(spoken(language)):
        sheet = framing.frame(
            kind=form, site=site, patient=patient, title=title, code="", is_large=large_print, now=now
        )
    undated = replace(sheet, foot="", issued_on="")
    page = rendering.page_of(
        template=form.template,
        context={**context, "sheet": undated, "site": site, "patient": patient},
        language=language,
        title=title,
        zone=site.zone,
    )
    return hashlib.sha256(page.html.encode()).hexdigest()


def prepare(
    *,
    kind: str,
    patient: Patient | None,
    site: Site,
    context: Mapping[str, object],
    language: str,
    title: str | Promise,
    now: datetime,
    template: str = "",
    large_print: bool = False,
    foot: str = "",
) -> Prepared:
    """Nothing is written here; RenderFailed says why a sheet could not be drawn. foot: beside title and day."""
    form, code, words_in = kinds.get(kind), codes.new(), spoken(language)
    with speaking(words_in):
        words = str(title)
        sheet = framing.frame(
            kind=form, site=site, patient=patient, title=words, code=code, is_large=large_print, now=now, note=foot
        )
    drawing = rendering.draw(
        template=template or form.template,
        context={**context, "sheet": sheet, "site": site, "patient": patient},
        language=words_in,
        title=words,
        made_at=now,
        paper=paper.for_country(site.country),
        zone=site.zone,
        identifier=codes.file_identifier(code),
    )
    return Prepared(
        kind=form,
        site=site,
        patient=patient,
        language=words_in,
        title=words,
        large_print=large_print,
        code=code,
        drawing=drawing,
        at=now,
    )


class WronglyKept(ValueError):
    """A programming error: a kind that is not archived was to be filed, or one that is was only to be printed."""


def print_out(
    *,
    kind: str,
    site: Site,
    context: Mapping[str, object],
    language: str,
    title: str | Promise,
    subject: tuple[str, int | str],
    actor: Actor,
    now: datetime,
    patient: Patient | None = None,
    large_print: bool = False,
    foot: str = "",
) -> Prepared:
    """For a kind that is not kept: drawn, noted in the trail, given away."""
    if kinds.get(kind).kept:
        raise WronglyKept(kind)
    prepared = prepare(
        kind=kind,
        patient=patient,
        site=site,
        context=context,
        language=language,
        title=title,
        now=now,
        large_print=large_print,
        foot=foot,
    )
    with transaction.atomic():
        record(
            verb="documents.printed",
            actor=actor,
            subject=subject,
            patient_id=patient.pk if patient else None,
            site_id=site.pk,
            values={"kind": kind, "template_version": prepared.kind.version, "language": prepared.language}
            | {"pages": prepared.drawing.pages},
        )
    return prepared


def file_away(prepared: Prepared, *, subject: tuple[str, int | str], actor: Actor) -> IssuedDocument:
    """Within the caller's transaction: the file first, then the row that names it, then the trail."""
    if not prepared.kind.kept:
        raise WronglyKept(prepared.kind.code)
    drawing = prepared.drawing
    document = IssuedDocument(
        site=prepared.site,
        patient=prepared.patient,
        kind=prepared.kind.code,
        title=prepared.title,
        language=prepared.language,
        large_print=prepared.large_print,
        subject_kind=subject[0],
        subject_id=str(subject[1]),
        template_version=prepared.kind.version,
        sha256=archive.keep(drawing.pdf),
        byte_size=len(drawing.pdf),
        pages=drawing.pages,
        undrawn=drawing.undrawn[:200],
        words_sha256=prepared.words_sha256,
        verify_code=prepared.code,
        file_identifier=codes.file_identifier(prepared.code),
        issued_at=prepared.at,
        issued_by_id=actor.id,
        # A patient's name is kept under the patient's own key in the trail, not in clear here.
        issued_by_name="" if actor.kind == "patient" else actor.name[:200],
    )
    document.save(force_insert=True)
    _record(document, subject=subject, actor=actor)
    return document


def _record(document: IssuedDocument, *, subject: tuple[str, int | str], actor: Actor) -> None:
    record(
        verb="documents.issued",
        actor=actor,
        subject=("document", document.pk),
        patient_id=document.patient_id,
        site_id=document.site_id,
        values={
            "kind": document.kind,
            "template_version": document.template_version,
            "language": document.language,
            "sha256": document.sha256,
            "byte_size": document.byte_size,
            "pages": document.pages,
            "about": f"{subject[0]} {subject[1]}",
        },
    )
