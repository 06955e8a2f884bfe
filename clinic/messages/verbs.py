"""What happens to messages and private links, as the trail tells it."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "messages.planned": _("planned a message"),
            "messages.planned_again": _("planned a cancelled message again"),
            "messages.cancelled": _("cancelled a planned message"),
            "messages.handed_over": _("handed a message over"),
            "messages.became_a_call": _("turned a message into a call"),
            "messages.failed": _("could not hand a message over"),
            "messages.uncertain": _("could not tell whether a message went out"),
            "messages.missed": _("found a message too late to send"),
            "messages.sent_again": _("sent a message again"),
            "messages.call_settled": _("noted how a call went"),
            "messages.call_wrong_number": _("called a number at which somebody else answers"),
            "messages.letters_made": _("had letters drawn to be printed"),
            "messages.letters_put_back": _("put letters back that were not posted"),
            "messages.posted": _("posted a letter"),
            "messages.delivered": _("heard from the mail provider that a message arrived"),
            "messages.came_back": _("found that a message came back"),
            "messages.mail_came_back": _("noted that mail to the patient’s address comes back"),
            "messages.mail_arrives": _("noted that mail to the patient’s address arrives after all"),
            "messages.link_made": _("made a private link"),
            "messages.link_ended": _("ended a private link"),
            "messages.link_opened": _("opened a private link"),
            "messages.birth_date_wrong": _("gave a date of birth that does not match"),
            "messages.recognised": _("gave the matching date of birth"),
            "messages.code_passed": _("gave the right code"),
            "messages.new_link_asked": _("asked for a new link"),
            "messages.replies_said": _("said whether replies to texts reach the practice"),
            "messages.words_written": _("wrote the practice’s own words of a message"),
            "messages.words_given_up": _("went back to the program’s words of a message"),
        }
    )
