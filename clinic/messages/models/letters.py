"""Letters that were drawn together, until somebody says that they are in the post, or puts them back."""

from typing import TYPE_CHECKING, Self

from django.db import models

if TYPE_CHECKING:
    from clinic.accounts.models import User


class LetterBatchQuerySet(models.QuerySet["LetterBatch"]):
    def visible_to(self, user: "User") -> Self:
        return self.filter(site__in=user.memberships.values("site"))

    def open(self) -> Self:
        return self.filter(posted_at=None, put_back_at=None)


class LetterBatch(models.Model):
    """Nothing is marked as posted by drawing it: a printer may jam. Its letters are the calls that point here."""

    site = models.ForeignKey("clinic_accounts.Site", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=120)
    posted_at = models.DateTimeField(null=True, blank=True)
    posted_by = models.CharField(max_length=120, blank=True)
    put_back_at = models.DateTimeField(null=True, blank=True)

    objects = LetterBatchQuerySet.as_manager()

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(posted_at=None) | models.Q(put_back_at=None), name="letter_batch_ends_once"
            ),
            models.CheckConstraint(
                condition=models.Q(posted_at=None, posted_by="")
                | (models.Q(posted_at__isnull=False) & ~models.Q(posted_by="")),
                name="letter_batch_posted_by_somebody",
            ),
        ]
        indexes = [
            models.Index(
                fields=["site", "made_at"],
                condition=models.Q(posted_at=None, put_back_at=None),
                name="letter_batch_open",
            ),
        ]

    def __str__(self) -> str:
        return f"letter batch {self.pk}"

    @property
    def is_open(self) -> bool:
        return self.posted_at is None and self.put_back_at is None
