from django.db import models


class CheckTries(models.Model):
    """How often one source asked at a public door within one stretch of time."""

    # A keyed digest of the address: enough to count by, nothing to look up.
    source = models.CharField(max_length=64)
    since = models.DateTimeField()
    tries = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["source", "since"], name="check_tries_once_per_stretch"),
        ]
        indexes = [models.Index(fields=["since"], name="check_tries_by_age")]

    def __str__(self) -> str:
        return f"{self.tries} since {self.since}"
