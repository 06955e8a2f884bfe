"""The answers an entry can hold, each with its word. Members are only ever appended: their place is a code."""

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.worded import Worded


class Arch(Worded):
    UPPER = "upper", _("upper arch")
    LOWER = "lower", _("lower arch")


class Arches(Worded):
    BOTH = "both", _("both arches")
    UPPER = "upper", _("upper arch")
    LOWER = "lower", _("lower arch")

    @property
    def each(self) -> tuple[Arch, ...]:
        return (Arch.UPPER, Arch.LOWER) if self is Arches.BOTH else (Arch.coded(self.value),)


class LightKind(Worded):
    NONE = "none", _("no light")
    HAND_HELD = "hand_held", _("hand-held light, tooth by tooth")
    ARCH = "arch", _("arch light")


class Chaperone(Worded):
    OFFERED_DECLINED = "offered_declined", _("observer or chaperone offered, not wanted")
    PRESENT = "present", _("observer or chaperone present")


class Interpreter(Worded):
    NOT_NEEDED = "not_needed", _("no interpreter needed")
    PRESENT = "present", _("interpreter present")
    BY_PHONE = "by_phone", _("interpreter by phone")


class Polish(Worded):
    DONE = "done", _("polished with oil-free paste, rinsed")
    NOT_NEEDED = "not_needed", _("clean already, rinsed")


class PictureMoment(Worded):
    START = "start", _("at the start")
    FINISH = "finish", _("at the end")


class Pictures(Worded):
    BOTH = "both", _("taken with and without the tab")
    WITHOUT_TAB = "without_tab", _("taken without the tab only")
    DECLINED = "declined", _("declined by the patient")


class Choice(Worded):
    STOP_HERE = "stop_here", _("Stop here")
    ONE_MORE = "one_more", _("One more cycle")


class EmergencyStep(Worded):
    SUCTION = "suction", _("suction")
    WIPE = "wipe", _("wipe")
    RINSE = "rinse", _("rinse")
    BARRIER_OFF = "barrier_off", _("barrier off")
    LOOK = "look", _("look at gums and lips")


class TakeOffReason(Worded):
    SIGNAL = "signal", _("the patient gave the stop signal")
    PAIN = "pain", _("pain or strong sensitivity")
    CONTACT = "contact", _("gel on gum, lip, skin or in an eye")
    LEAK = "leak", _("the barrier leaked")
    UNWELL = "unwell", _("the patient felt unwell")
    DEVICE = "device", _("a device failed")
    OTHER = "other", _("another reason")
    WITHDRAWN = "withdrawn", _("consent was withdrawn")


class Place(Worded):
    GUM = "gum", _("Gum")
    LIP = "lip", _("Lip")
    SKIN = "skin", _("Skin")
    EYE = "eye", _("Eye")


class FirstAid(Worded):
    FLUSHED = "flushed", _("flushed, looks normal")
    WATCHED = "watched", _("white or red: look again")
    CREAM = "cream", _("protective gel put on")
    EYE_FLUSHED = "eye_flushed", _("flushed 15 min, eye care today")
    SENT_ON = "sent_on", _("sent on for medical help")
    MISTAKE = "mistake", _("entered by mistake")


class MixEnd(Worded):
    DISCARDED = "discarded", _("discarded")
    USED_UP = "used_up", _("used up")


class Difference(Worded):
    NONE = "none", _("no difference between the arches")
    NEXT_VISIT = "next_visit", _("the other arch is evened out at the next visit")
    LEFT = "left", _("the patient is content to leave it")
    AT_REVIEW = "at_review", _("decided at the review")


class NextSteps(Worded):
    AS_PLANNED = "as_planned", _("as planned")
    REVIEW_ONLY = "review_only", _("no further session, review only")
    SEEN_EARLIER = "seen_earlier", _("seen again earlier than planned")
