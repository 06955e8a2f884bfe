from django.db import models


class Heartbeat(models.Model):
    """When each background loop last came round, in real time; /health/ reads it."""

    name = models.CharField(max_length=32, primary_key=True)
    beat_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
