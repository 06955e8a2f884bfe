from django.urls import URLPattern, path

from clinic.documents.views.files import document_file, document_larger
from clinic.documents.views.incoming import incoming_file, paper_mistake, patient_papers
from clinic.documents.views.verify import verify

urlpatterns: list[URLPattern] = [
    path("documents/<int:pk>/", document_file, name="document_file"),
    path("documents/<int:pk>/large/", document_larger, name="document_larger"),
    path("patients/<int:pk>/papers/", patient_papers, name="patient_papers"),
    path("papers/<int:pk>/", incoming_file, name="incoming_file"),
    path("papers/<int:pk>/mistake/", paper_mistake, name="paper_mistake"),
    path("verify/", verify, name="verify"),
]
