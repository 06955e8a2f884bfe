"""What can happen in a session, in which step it belongs, and the steps in their order.

The order of the steps follows the chairside list of the clinical facts, section 6 (shade before the
teeth dry: Hatirli 2021; filter eyewear: NIOM filter studies; the rest common practice, no source).
"""

from django.utils.translation import gettext_lazy as _

from whitening.chairside.protocol.worded import Numbered, Worded


class Kind(Numbered):
    """Numbers are never reused: logs and browsers hold them."""

    PEOPLE = 1, _("People present")
    REASK = 2, _("Questions asked again")
    STOP_SIGNAL = 3, _("Stop signal shown and tried")
    SPLASH_GLASSES = 4, _("Splash glasses on")
    POLISH = 5, _("Polished and rinsed")
    OPENER = 6, _("Mouth opener in")
    START_SHADE = 7, _("Starting shade")
    PHOTOGRAPHS = 8, _("Photographs")
    ISOLATION = 9, _("Tongue guard, lips, gauze")
    EYEWEAR = 10, _("Filter eyewear on everybody")
    BARRIER = 11, _("Barrier placed")
    CURED = 12, _("Barrier cured")
    INSPECTION = 13, _("Inspected by two people")
    MIX_STARTED = 14, _("Mixing started")
    MIX_DISCARDED = 15, _("Mix discarded or used up")
    GEL_ON = 16, _("Gel on")
    LIGHT_ON = 17, _("Light on")
    LIGHT_OFF = 18, _("Light off")
    LIGHT_MOVED = 19, _("Light moved")
    GEL_CHANGED = 20, _("Gel has changed as its maker describes")
    TIME_UP = 21, _("Time is up")
    GEL_OFF = 22, _("Gel off by suction")
    RINSED = 23, _("Rinsed")
    SENSITIVITY = 24, _("Sensitivity")
    DECIDED = 25, _("Stop here or one more cycle")
    TAKE_OFF_NOW = 26, _("Take the gel off now")
    EMERGENCY_STEP = 27, _("Gel taken off: step done")
    TAKE_OFF_REASON = 28, _("Why the gel was taken off")
    CONTACT = 29, _("Gel or light touched")
    CONTACT_SETTLED = 30, _("Contact settled")
    BARRIER_OFF = 31, _("Barrier off, pieces counted")
    EYEWEAR_OFF = 32, _("Eyewear off")
    FINAL_SHADE = 33, _("Final shade, provisional: teeth are dry")
    ADVICE = 34, _("Advice given")
    NEXT_STEPS = 35, _("Next steps")
    WORDS = 36, _("Clinician's words")
    ENDED_EARLY = 37, _("Ended early")
    CLOSED = 38, _("Closed by the clinician")
    UNDO = 39, _("Taken back")
    WRITTEN_LATER = 40, _("Written up later from paper")
    SKIPPED = 41, _("Step left out")
    CARE = 42, _("Step for this patient done")


class Phase(Worded):
    ARRIVE = "arrive", _("Here and safe")
    CLEAN = "clean", _("Clean")
    SHADE = "shade", _("Starting shade")
    PROTECT = "protect", _("Protect")
    CYCLES = "cycles", _("Cycle")
    FINISH = "finish", _("Take out")
    RESULT = "result", _("Final shade")
    GOODBYE = "goodbye", _("Advice")
    CLOSE = "close", _("Close")


class Step(Worded):
    PEOPLE = "people", _("Who is here?")
    REASK = "reask", _("Ask the questions again")
    STOP_SIGNAL = "stop_signal", _("Show the stop signal and try it")
    SPLASH_GLASSES = "splash_glasses", _("Splash glasses on")
    POLISH = "polish", _("Polish with oil-free paste, rinse")
    OPENER = "opener", _("Mouth opener in")
    START_SHADE = "start_shade", _("Starting shade")
    START_PHOTOS = "start_photos", _("Photographs, with and without the tab")
    ISOLATION = "isolation", _("Tongue guard, lips, gauze")
    EYEWEAR = "eyewear", _("Filter eyewear on everybody")
    BARRIER = "barrier", _("Place and cure the barrier")
    INSPECTION = "inspection", _("Two people inspect the barrier")
    CYCLES = "cycles", _("Cycles")
    BARRIER_OFF = "barrier_off", _("Barrier off, count the pieces")
    EYEWEAR_OFF = "eyewear_off", _("Eyewear off")
    FINAL_SHADE = "final_shade", _("Final shade, provisional: teeth are dry")
    FINISH_PHOTOS = "finish_photos", _("Photographs at the end")
    ENDED_EARLY = "ended_early", _("Ended early: what about the difference between the arches?")
    ADVICE = "advice", _("Give the advice")
    NEXT_STEPS = "next_steps", _("Agree the next steps")
    CLOSE = "close", _("Close the session")


PHASES: dict[Step, Phase] = {
    Step.PEOPLE: Phase.ARRIVE,
    Step.REASK: Phase.ARRIVE,
    Step.STOP_SIGNAL: Phase.ARRIVE,
    Step.SPLASH_GLASSES: Phase.CLEAN,
    Step.POLISH: Phase.CLEAN,
    Step.OPENER: Phase.CLEAN,
    Step.START_SHADE: Phase.SHADE,
    Step.START_PHOTOS: Phase.SHADE,
    Step.ISOLATION: Phase.PROTECT,
    Step.EYEWEAR: Phase.PROTECT,
    Step.BARRIER: Phase.PROTECT,
    Step.INSPECTION: Phase.PROTECT,
    Step.CYCLES: Phase.CYCLES,
    Step.BARRIER_OFF: Phase.FINISH,
    Step.EYEWEAR_OFF: Phase.FINISH,
    Step.FINAL_SHADE: Phase.RESULT,
    Step.FINISH_PHOTOS: Phase.RESULT,
    Step.ENDED_EARLY: Phase.GOODBYE,
    Step.ADVICE: Phase.GOODBYE,
    Step.NEXT_STEPS: Phase.GOODBYE,
    Step.CLOSE: Phase.CLOSE,
}
STEPS = tuple(Step)
BEFORE_GEL = STEPS[: STEPS.index(Step.CYCLES)]
AFTER_GEL = STEPS[STEPS.index(Step.CYCLES) + 1 :]
# Gel without these is recorded, and the clinician says why.
PROTECTION = (Step.EYEWEAR, Step.BARRIER, Step.INSPECTION)

# What an entry tells about a step that happens once. The rest of the kinds belong to cycles or to anywhere.
STEP_OF: dict[Kind, Step] = {
    Kind.PEOPLE: Step.PEOPLE,
    Kind.REASK: Step.REASK,
    Kind.STOP_SIGNAL: Step.STOP_SIGNAL,
    Kind.SPLASH_GLASSES: Step.SPLASH_GLASSES,
    Kind.POLISH: Step.POLISH,
    Kind.OPENER: Step.OPENER,
    Kind.START_SHADE: Step.START_SHADE,
    Kind.ISOLATION: Step.ISOLATION,
    Kind.EYEWEAR: Step.EYEWEAR,
    Kind.INSPECTION: Step.INSPECTION,
    Kind.BARRIER_OFF: Step.BARRIER_OFF,
    Kind.EYEWEAR_OFF: Step.EYEWEAR_OFF,
    Kind.FINAL_SHADE: Step.FINAL_SHADE,
    Kind.ENDED_EARLY: Step.ENDED_EARLY,
    Kind.ADVICE: Step.ADVICE,
    Kind.NEXT_STEPS: Step.NEXT_STEPS,
}

# An undo never takes these back: a closing is answered by a new entry, and who wrote what when is itself the
# correction. A contact stays in the log and among the incidents: taken back, it is settled as entered by mistake.
NEVER_UNDONE = frozenset({Kind.CLOSED, Kind.UNDO, Kind.WRITTEN_LATER})
