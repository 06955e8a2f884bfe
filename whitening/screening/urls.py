from django.urls import path

from whitening.screening.views import clinic, questions, reasking

urlpatterns = [
    path("cases/<int:pk>/assessment/", clinic.assessment, name="assessment"),
    path("cases/<int:pk>/assessment/decision/", clinic.decision, name="decision"),
    path("cases/<int:pk>/examination/", clinic.examination, name="examination"),
    path("cases/<int:pk>/plan/", clinic.plan, name="plan"),
    path("cases/<int:pk>/reask/", reasking.reask, name="reask"),
    path("p/questions/", questions.start, name="questions"),
    path("p/questions/done/", questions.done, name="questions_done"),
    path("p/questions/thanks/", questions.thanks, name="questions_thanks"),
    path("p/questions/<slug:name>/", questions.question, name="question"),
    path("p/reading/", questions.read_ahead, name="read_ahead"),
]
