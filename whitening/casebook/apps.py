from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class CasebookConfig(AppConfig):
    name = "whitening.casebook"
    label = "whitening_casebook"
    verbose_name = _("Casebook")

    def ready(self) -> None:
        from clinic.diary import again, behind, leads, marks, pencilling, restoring, waiting
        from clinic.diary import confirming as diary_confirming
        from clinic.diary.selfservice import inviting, limits
        from clinic.diary.waitlist import clearing, needing, taking
        from clinic.patients import hints, leaving, merging
        from whitening.casebook import (
            booking_marks,
            closed_since,
            confirming,
            distance,
            downtime,
            early,
            joining,
            patient_limits,
            pencils,
            sections,
            waitlist,
        )
        from whitening.casebook.actions.visits import take_in_again
        from whitening.casebook.again import page_of_the_case
        from whitening.casebook.going_on import against_going_on, care_at_the_chair
        from whitening.casebook.leads import bonding_after
        from whitening.chairside import registries

        behind.register(distance.behind)
        restoring.register(take_in_again)
        marks.register(booking_marks.marks)
        diary_confirming.register(confirming.confirm_session)
        waiting.register(early.waits_until)
        pencilling.register(pencils.of_held)
        again.register(page_of_the_case)
        leads.register(bonding_after)
        clearing.register(waitlist.clear_by)
        needing.register(waitlist.planned_for)
        taking.register(waitlist.take_in)
        limits.register(patient_limits.of_move)
        inviting.register(patient_limits.ROOM)
        leaving.register("casebook", restorer=closed_since.closed_since)
        downtime.register()
        hints.register_section(sections.CASES)
        merging.register(joining.ROOM)
        registries.register_gate_check(against_going_on)
        registries.register_care_check(care_at_the_chair)
