from django.urls import URLPattern, path

from clinic.documents.views.files import document_file, document_larger
from clinic.documents.views.verify import verify

urlpatterns: list[URLPattern] = [
    path("documents/<int:pk>/", document_file, name="document_file"),
    path("documents/<int:pk>/large/", document_larger, name="document_larger"),
    path("verify/", verify, name="verify"),
]
