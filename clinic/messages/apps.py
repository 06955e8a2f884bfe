from django.apps import AppConfig
from django.core import checks
from django.utils.translation import gettext_lazy as _

from clinic.messages import verbs


class MessagesConfig(AppConfig):
    name = "clinic.messages"
    label = "clinic_messages"
    verbose_name = _("Messages")

    def ready(self) -> None:
        from clinic.accounts import setup_pages
        from clinic.messages import events, own, posting, section, text_replies
        from clinic.messages.actions import joining
        from clinic.messages.actions.leaving import end_messages_of, give_messages_back
        from clinic.messages.checks import mail_can_be_handed_over, texts_can_be_handed_over
        from clinic.messages.wordings import missing
        from clinic.patients import hints, leaving, merging
        from clinic.trail import guards

        checks.register(mail_can_be_handed_over)
        checks.register(texts_can_be_handed_over)
        setup_pages.register(missing.PAGE)
        setup_pages.register(text_replies.PAGE)
        guards.register(table="clinic_messages_wording")
        verbs.register()
        own.register()
        posting.register()
        events.listen()
        hints.register_section(section.CONTACT)
        hints.register_section(section.SENT)
        merging.register(joining.ROOM)
        leaving.register("messages", ender=end_messages_of, restorer=give_messages_back)
