"""A letter to a doctor or specialist about one finding, and the paper that answered it. Append-only."""

from django.db import models


class Letter(models.Model):
    case = models.ForeignKey("whitening_cases.Case", on_delete=models.PROTECT, related_name="letters")
    rule = models.CharField(max_length=12)
    addressee = models.CharField(max_length=400)
    question = models.TextField(max_length=1500)
    planned = models.TextField(max_length=1000)
    document = models.OneToOneField("clinic_documents.IssuedDocument", on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    written_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["written_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(addressee="") & ~models.Q(question=""), name="letter_asks_somebody_something"
            )
        ]

    def __str__(self) -> str:
        return f"letter about {self.rule}"

    @property
    def addressed_to(self) -> str:
        """The first line, which is the name."""
        return self.addressee.partition("\n")[0]


class LetterReply(models.Model):
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="replies")
    # One paper answers one letter.
    paper = models.OneToOneField("clinic_documents.IncomingPaper", on_delete=models.PROTECT, related_name="reply")
    attached_at = models.DateTimeField()
    attached_by = models.ForeignKey("clinic_accounts.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["attached_at", "pk"]

    def __str__(self) -> str:
        return f"reply to letter {self.letter_id}"
