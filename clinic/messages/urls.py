from django.urls import URLPattern, path

from clinic.messages.views import (
    contact,
    events,
    health,
    knowing,
    letters,
    metrics,
    opening,
    preferences,
    replies,
    sent,
    wording,
)

urlpatterns: list[URLPattern] = [
    path("health/", health.health, name="health"),
    # Without a slash: where a monitor looks unless it is told otherwise.
    path("metrics", metrics.metrics, name="metrics"),
    path("mail-events/", events.mail_events, name="mail_events"),
    path("letters/", letters.letters, name="letters"),
    path("letters/make/", letters.make, name="letters_make"),
    path("letters/<int:pk>/print/", letters.draw, name="letters_print"),
    path("letters/<int:pk>/posted/", letters.posted, name="letters_posted"),
    path("letters/<int:pk>/back/", letters.put_back, name="letters_put_back"),
    path("patients/<int:pk>/contact/", contact.choices, name="contact_choices"),
    path("patients/<int:pk>/messages/", sent.messages_of, name="patient_messages"),
    path("patients/<int:pk>/texts/", contact.texts, name="patient_texts"),
    path("patients/<int:pk>/mail/", contact.mail, name="patient_mail"),
    path("setup/sites/<int:pk>/replies/", replies.replies, name="text_replies"),
    path("setup/messages/", wording.setup_messages, name="setup_messages"),
    path("setup/messages/<str:kind>/<str:channel>/<str:language>/", wording.message_words, name="message_words"),
    path(
        "setup/messages/<str:kind>/<str:channel>/<str:language>/back/",
        wording.message_words_back,
        name="message_words_back",
    ),
    path("p/l/<str:token>/", opening.private_link, name="private_link"),
    path("p/l/<str:token>/new/", opening.new_link, name="private_link_new"),
    path("p/new/", opening.new_link, name="private_new"),
    path("p/end/<str:token>/", opening.private_end, name="private_end"),
    path("p/who/", knowing.who, name="private_who"),
    path("p/code/", knowing.code, name="private_code"),
    path("p/preferences/", preferences.preferences, name="preferences"),
]
