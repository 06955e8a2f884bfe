from django.urls import URLPattern, path

from clinic.documents.views.files import document_file
from clinic.documents.views.verify import verify

urlpatterns: list[URLPattern] = [
    path("documents/<int:pk>/", document_file, name="document_file"),
    path("verify/", verify, name="verify"),
]
