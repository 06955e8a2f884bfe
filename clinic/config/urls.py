"""The root of all addresses. This package is the one place above both clinic and whitening."""

from django.conf import settings
from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("clinic.accounts.urls")),
    path("", include("clinic.patients.urls")),
    path("", include("clinic.documents.urls")),
    path("", include("clinic.messages.urls")),
    path("", include("clinic.diary.urls")),
    path("", include("whitening.cases.urls")),
    path("", include("whitening.screening.urls")),
    path("", include("whitening.consent.urls")),
    path("", include("whitening.chairside.urls")),
    path("", include("whitening.recall.urls")),
    path("", include("whitening.casebook.urls")),
]
if settings.DEMO:
    urlpatterns.append(path("", include("whitening.demo.urls")))
handler400 = "clinic.accounts.views.problems.bad_request"
handler403 = "clinic.accounts.views.problems.forbidden"
handler404 = "clinic.accounts.views.problems.not_found"
handler500 = "clinic.accounts.views.problems.server_error"
# The sign-in library looks for it here.
handler429 = "clinic.accounts.views.problems.too_many"
