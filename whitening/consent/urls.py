from django.urls import path

from whitening.consent.views import clinic, preparing, signing

urlpatterns = [
    path("cases/<int:pk>/consent/", clinic.consent, name="consent"),
    path("cases/<int:pk>/consent/talk/", clinic.talk, name="consent_talk"),
    path("cases/<int:pk>/consent/countersign/", clinic.countersigned, name="consent_countersign"),
    path("cases/<int:pk>/consent/withdraw/", clinic.withdrawn, name="consent_withdraw"),
    path("cases/<int:pk>/consent/photographs/", clinic.photographs_taken_back, name="consent_photographs"),
    path("p/prepare/", preparing.page, name="prepare"),
    path("p/prepare/paper/", preparing.paper, name="prepare_paper"),
    path("p/sign/", signing.page, name="sign"),
    path("p/sign/withdraw/", signing.withdrawn, name="sign_withdraw"),
    path("p/consent-paper/", signing.paper, name="consent_paper"),
    path("p/photographs/", signing.photographs, name="photographs"),
]
