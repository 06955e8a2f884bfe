from django.db import models


class Heartbeat(models.Model):
    """When each background loop last came round, in real time; /health/ reads it."""

    name = models.CharField(max_length=32, primary_key=True)
    beat_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class TroubleMail(models.Model):
    """A mail in the practice's mailbox that could not be taken: its number there, and nothing of what it says."""

    # Tried again in so many rounds; from then on it waits for a person to read it in the mailbox itself.
    TRIES = 3

    name = models.CharField(max_length=64, primary_key=True)
    tries = models.PositiveSmallIntegerField(default=1)

    def __str__(self) -> str:
        return self.name
