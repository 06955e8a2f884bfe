"""The diary's entries in the trail, each with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "diary.booked": _("booked a visit"),
            "diary.pencilled": _("pencilled a visit"),
            "diary.held": _("held a time while on the telephone"),
            "diary.hold_booked": _("booked the time that was held"),
            "diary.hold_pencilled": _("pencilled the time that was held"),
            "diary.hold_let_go": _("let a held time go"),
            "diary.hold_ended": _("freed a held time that ran out"),
            "diary.confirmed": _("confirmed a pencilled visit"),
            "diary.accepted": _("said that they come"),
            "diary.heard_they_come": _("heard that the patient comes"),
            "diary.invited": _("sent a link to pick the time of a visit"),
            "diary.invitation_ended": _("ended a link to pick the time of a visit"),
            "diary.moved": _("moved a visit"),
            "diary.clock_followed": _("kept a visit's time on the clock under new clock rules"),
            "diary.cancelled": _("cancelled a visit"),
            "diary.lapsed": _("let a pencilled visit lapse"),
            "diary.arrived": _("noted that the patient is here"),
            "diary.walked_in": _("noted that the patient came without a visit and is here"),
            "diary.checked_in": _("noted that the patient is in the chair"),
            "diary.finished": _("noted that the visit is over"),
            "diary.did_not_come": _("noted that the patient did not come"),
            "diary.why_noted": _("noted why a visit did not happen"),
            "diary.status_undone": _("took back a change to a visit"),
            "diary.began_late": _("fitted a visit to a patient who is late"),
            "diary.asked_about_late": _("asked the dentist what to do with a patient who is late"),
            "diary.answered_about_late": _("answered what to do with a patient who is late"),
            "diary.leaves_again": _("noted that a patient who was here comes another time"),
            "diary.own_change_seen": _("saw what a patient changed by link"),
            "diary.waitlist_added": _("put somebody on the waiting list"),
            "diary.waitlist_changed": _("changed what somebody waits for"),
            "diary.waitlist_left": _("took somebody off the waiting list"),
            "diary.offer_made": _("offered a free time to somebody who waits"),
            "diary.offer_taken": _("took the time that was offered"),
            "diary.offer_declined": _("did not want the time that was offered"),
            "diary.offer_lapsed": _("gave an offered time on, as no answer came"),
            "diary.offer_withdrawn": _("took back a time that was offered"),
            "diary.resource_changed": _("changed a room, person or light"),
            "diary.hours_changed": _("changed working hours"),
            "diary.closed": _("closed a stretch of time"),
            "diary.closure_taken_back": _("opened a closed stretch of time again"),
            "diary.calendar_made": _("made an address at which a calendar program fetches visits"),
            "diary.calendar_taken_back": _("took back an address at which a calendar program fetched visits"),
            "diary.visit_type_changed": _("changed a kind of visit"),
        }
    )
