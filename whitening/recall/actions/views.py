"""Views of Follow-ups that somebody keeps for themselves."""

import unicodedata

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.trail.refusals import Refusal
from whitening.recall.models import SavedView

MOST, LONGEST = 12, 40


class ViewNeedsAName(Refusal):
    code = "recall.view_needs_a_name"
    sentence = _("Give the view a name of at most 40 letters. Then it stands above the list.")


class TooManyViews(Refusal):
    code = "recall.too_many_views"
    sentence = _("You keep twelve views already. Delete one that you do not need; then keep this one.")


def keep_view(*, user: User, name: str, kind: str, owner: str, section: str) -> SavedView:
    """One of the same name is replaced."""
    name = _plain(name)
    if not name or len(name) > LONGEST:
        raise ViewNeedsAName
    with transaction.atomic():
        User.objects.select_for_update().get(pk=user.pk)
        others = SavedView.objects.filter(user=user).exclude(name=name)
        if others.count() >= MOST:
            raise TooManyViews
        view, _made = SavedView.objects.update_or_create(
            user=user, name=name, defaults={"kind": kind, "owner": owner, "section": section}
        )
    return view


def delete_view(*, user: User, name: str) -> None:
    """Gone already is as good."""
    SavedView.objects.filter(user=user, name=_plain(name)).delete()


def _plain(name: str) -> str:
    """Without what no keyboard types and no database keeps."""
    return "".join(letter for letter in name if unicodedata.category(letter) != "Cc").strip()
