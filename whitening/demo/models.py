"""What the demo keeps instead of sending it, and how far its clock runs ahead."""

from django.db import models


class DemoMail(models.Model):
    """An e-mail as it would have left, with its links."""

    received_at = models.DateTimeField()
    to = models.CharField(max_length=254)
    sender = models.CharField(max_length=254)
    subject = models.CharField(max_length=250)
    message_id = models.CharField(max_length=120, blank=True)
    text = models.TextField()
    html = models.TextField(blank=True)
    calendar = models.TextField(blank=True)
    attachments = models.JSONField(default=list)

    class Meta:
        ordering = ["-received_at", "-pk"]

    def __str__(self) -> str:
        return f"demo mail {self.pk}"


class DemoText(models.Model):
    """A text message as it would have left."""

    received_at = models.DateTimeField()
    to = models.CharField(max_length=20)
    body = models.CharField(max_length=480)

    class Meta:
        ordering = ["-received_at", "-pk"]

    def __str__(self) -> str:
        return f"demo text {self.pk}"


class DemoClock(models.Model):
    """One row: how far the practice's time runs ahead of real time. It never runs back."""

    shift = models.DurationField()
    moved_at = models.DateTimeField()
    moved_by = models.CharField(max_length=120)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="demo_clock_is_one")]

    def __str__(self) -> str:
        return f"{self.shift} ahead"
