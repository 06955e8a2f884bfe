"""How long a stretch of a session usually takes whom: computed from the log whenever a session closes."""

from django.db import models

from whitening.chairside.protocol.timing import Measure

_MEASURES = [measure.value for measure in Measure]


class UsualTime(models.Model):
    """Read by every search for a time: the log itself would be far too much to read there."""

    resource = models.ForeignKey("clinic_diary.Resource", on_delete=models.CASCADE, related_name="usual_times")
    measure = models.CharField(max_length=16)
    minutes = models.PositiveSmallIntegerField()
    within = models.PositiveSmallIntegerField()
    sessions = models.PositiveSmallIntegerField()
    computed_at = models.DateTimeField()

    class Meta:
        ordering = ["resource", "measure"]
        constraints = [
            models.UniqueConstraint(fields=["resource", "measure"], name="usual_time_once"),
            models.CheckConstraint(condition=models.Q(measure__in=_MEASURES), name="usual_time_measure_known"),
            models.CheckConstraint(
                condition=models.Q(minutes__gte=1, within__gte=1, within__lte=models.F("sessions")),
                name="usual_time_counts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.measure} of {self.resource_id}: {self.minutes} min"
