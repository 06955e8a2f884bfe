"""What the diary cannot do, and what to do instead."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from clinic.diary.outside import Outside
from clinic.trail.refusals import Refusal

if TYPE_CHECKING:
    from clinic.diary.models import Booking


class SlotTaken(Refusal):
    code = "diary.slot_taken"
    sentence = _("That time has just been taken. Pick one of the next free times.")


class OutsideOpeningHours(Refusal):
    code = "diary.no_opening"
    sentence = _("Nobody and nothing suitable is free at that time any more. Pick one of the next free times.")


class InThePast(Refusal):
    code = "diary.in_the_past"
    sentence = _("That time has passed. Pick one of the next free times.")


class PatientBusy(Refusal):
    code = "diary.patient_busy"
    sentence = _("This patient already has a visit at that time: %(visit)s. Pick another time, or move that visit.")


class NotPossibleNow(Refusal):
    code = "diary.not_possible_now"
    sentence = _("This visit is “%(status)s” now, so that cannot be done. Reload the page to see what happened.")


class ChangedMeanwhile(NotPossibleNow):
    code = "diary.changed_meanwhile"
    sentence = _("Somebody else changed this visit after you opened this page. Look where it is now, then pick again.")


class NotItsTime(Refusal):
    code = "diary.not_its_time"
    sentence = _(
        "This visit is %(when)s, so that cannot be said of it yet. If it was moved after you opened the page, go on "
        "from how it stands now."
    )


class RecordOpen(Refusal):
    code = "diary.record_open"
    sentence = _("The session of this visit is still running. Close it at the chair: the visit is finished with it.")


class NotYoursToTakeBack(Refusal):
    code = "diary.not_yours_to_take_back"
    sentence = _("A change is taken back on the same day, by whoever made it. What happened below says who that was.")


class MoreThanAgreed(Refusal):
    code = "diary.more_than_agreed"
    sentence = _("That is more than was booked. Pick as many cycles as were agreed, or fewer.")


class NothingFits(Refusal):
    code = "diary.nothing_fits"
    sentence = _("By now nothing of this visit fits any more. Find another time for it.")


class AskedAlready(Refusal):
    code = "diary.asked_already"
    sentence = _("This has been asked already. The question stands on Today until somebody answers it.")


class TooLongToWait(Refusal):
    code = "diary.too_long_to_wait"
    sentence = _("That time is more than an hour away. Book it like any other visit, or pick one that begins sooner.")


class HoldEnded(Refusal):
    code = "diary.hold_ended"
    sentence = _("Your hold ran out at %(until)s. Pick one of the next free times: this one too, if it is among them.")


class PencilEnded(Refusal):
    code = "diary.pencil_ended"
    sentence = _(
        "This time was pencilled until %(until)s. Pick one of the next free times: this one too, if it is free."
    )


class HeldByAnother(Refusal):
    code = "diary.held_by_another"
    sentence = _("%(who)s holds this time until %(until)s. Ask them, or pick another time.")


class ClocksMeet(Refusal):
    code = "diary.clocks_meet"
    sentence = _("One of these visits would then meet a visit that stays. Move one of the two first, then try again.")


class NobodyWaits(Refusal):
    code = "diary.nobody_waits"
    sentence = _("Somebody changed this entry of the waiting list, or ended it, since you opened it. Look again.")


class WaitsAlready(Refusal):
    code = "diary.waits_already"
    sentence = _("This visit is on the waiting list already. Change that entry instead.")


class OfferEnded(Refusal):
    code = "diary.offer_ended"
    sentence = _("This time is not on offer any more: it was answered, taken back, or the time to answer ran out.")


class NameInUse(Refusal):
    code = "diary.name_in_use"
    sentence = _("There is already one of that name here. Give it another name.")


class NoSegment(Refusal):
    code = "diary.no_segment"
    sentence = _("A visit needs at least one segment: without any it takes no time and no room. Keep or add one.")


class TooLongForADay(Refusal):
    code = "diary.too_long_for_a_day"
    sentence = _("With six cycles this visit would last longer than a day. Shorten a segment.")


class LearnedTwice(Refusal):
    code = "diary.learned_twice"
    sentence = _("Two segments learn from the same stretch, so that time would count twice. Let one keep its number.")


class AgainstLocalRules(Refusal):
    code = "diary.against_local_rules"
    sentence = _("Not saved. %(rule)s")


class KindChangedMeanwhile(Refusal):
    code = "diary.kind_changed_meanwhile"
    sentence = _(
        "Somebody else changed this kind of visit after you opened this page. Below is what you typed; open the page "
        "anew to see theirs, then change what is still needed."
    )


class AlreadyOver(Refusal):
    code = "diary.already_over"
    sentence = _("That time is over. Pick one that is still to come.")


class VisitsOutside(Refusal):
    """Holds the visits that nobody has agreed to leave outside working time."""

    code = "diary.visits_outside"
    sentence = _("Visits are booked in that time. Look at them, then save anyway, or leave it as it is.")

    def __init__(self, visits: Sequence[Outside]) -> None:
        super().__init__()
        self.visits = visits


class NoCalendarOfThis(Refusal):
    code = "diary.no_calendar_of_this"
    sentence = _("Only a room, or somebody who works here, has a calendar. Pick one of those.")


class TooManyCalendars(Refusal):
    code = "diary.too_many_calendars"
    sentence = _("%(name)s has %(most)s open addresses already. Take back one that is not used any more, then go on.")


class CalendarMadeAlready(Refusal):
    code = "diary.calendar_made_already"
    sentence = _(
        "An address was made from this page already, and is not shown again. If it was not copied, take it back in "
        "the list, open the page anew and make another one."
    )


class CalendarEnded(Refusal):
    code = "diary.calendar_ended"
    sentence = _("This address was taken back already. It opens nothing any more.")


class CallUs(Refusal):
    code = "diary.call_us"
    sentence = _("This can no longer be changed here. Please call us: we sort it out together.")


class NotForPatients(Refusal):
    code = "diary.not_for_patients"
    sentence = _(
        "Patients do not pick this visit's time alone here. Find a time for them, or let a manager allow it in Set-up."
    )


class TreatmentNeedsItsCase(Refusal):
    code = "diary.treatment_needs_its_case"
    sentence = _("Send this link from the patient's case: there it is known whether all is agreed.")


class InvitationOver(Refusal):
    code = "diary.invitation_over"
    sentence = _("This invitation has ended. Look at the patient's visits, then send another one if it is needed.")


class BookedAlready(Refusal):
    """Holds the visit that stands."""

    code = "diary.booked_already"
    sentence = _("This visit has a time already. Move that one if it does not suit.")

    def __init__(self, booking: "Booking") -> None:
        super().__init__()
        self.booking = booking
