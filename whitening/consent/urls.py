from django.urls import path

from whitening.consent.views import clinic, interpreting, on_paper, preparing, quotes, signing, wording

urlpatterns = [
    path("cases/<int:pk>/consent/", clinic.consent, name="consent"),
    path("cases/<int:pk>/consent/talk/", clinic.talk, name="consent_talk"),
    path("cases/<int:pk>/consent/interpreter/", interpreting.interpreter, name="consent_interpreter"),
    path("cases/<int:pk>/consent/paper/", on_paper.on_paper, name="consent_on_paper"),
    path("cases/<int:pk>/consent/paper/print/", on_paper.printed, name="consent_print"),
    path("cases/<int:pk>/consent/paper/<int:reading_pk>/check/", on_paper.checked, name="consent_paper_check"),
    path("consent/blank/", on_paper.blank, name="consent_blank"),
    path("cases/<int:pk>/consent/countersign/", clinic.countersigned, name="consent_countersign"),
    path("cases/<int:pk>/consent/withdraw/", clinic.withdrawn, name="consent_withdraw"),
    path("cases/<int:pk>/consent/photographs/", clinic.photographs_taken_back, name="consent_photographs"),
    path("cases/<int:pk>/quote/", quotes.quote, name="quote"),
    path("cases/<int:pk>/quote/paper/", quotes.quote_paper, name="quote_paper"),
    path("cases/<int:pk>/deposit/", quotes.deposit, name="deposit"),
    path("setup/consent-wording/", wording.wordings, name="setup_wording"),
    path("setup/consent-wording/<slug:language>/<str:label>/", wording.version, name="wording_version"),
    path("setup/consent-wording/<slug:language>/<str:label>/change/", wording.change, name="wording_change"),
    path("setup/consent-wording/<slug:language>/<str:label>/use/", wording.use, name="wording_use"),
    path("setup/consent-wording/<slug:language>/<str:label>/check/", wording.check, name="wording_check"),
    path("p/quote/", quotes.own_paper, name="own_quote"),
    path("p/prepare/", preparing.page, name="prepare"),
    path("p/prepare/paper/", preparing.paper, name="prepare_paper"),
    path("p/sign/", signing.page, name="sign"),
    path("p/sign/withdraw/", signing.withdrawn, name="sign_withdraw"),
    path("p/consent-paper/", signing.paper, name="consent_paper"),
    path("p/photographs/", signing.photographs, name="photographs"),
]
