from django.urls import path

from whitening.screening.views import (
    asking,
    assessing,
    examining,
    known,
    letters,
    local_rules,
    planning,
    printing,
    questions,
    reasking,
)

urlpatterns = [
    path("cases/<int:pk>/assessment/", assessing.assessment, name="assessment"),
    path("cases/<int:pk>/assessment/decision/", assessing.decision, name="decision"),
    path("cases/<int:pk>/assessment/reask/", assessing.reask_decision, name="reask_decision"),
    path("cases/<int:pk>/assessment/sign/", assessing.sign, name="assessment_sign"),
    path("cases/<int:pk>/known/", known.known, name="known"),
    path("cases/<int:pk>/assessment/letter/", letters.letter, name="letter"),
    path("cases/<int:pk>/ask/", asking.ask, name="ask"),
    path("cases/<int:pk>/examination/", examining.examination, name="examination"),
    path("cases/<int:pk>/plan/", planning.plan, name="plan"),
    path("cases/<int:pk>/questions-on-paper/", printing.question_sheet, name="question_sheet"),
    path("cases/<int:pk>/reask/", reasking.reask, name="reask"),
    path("setup/local-rules/", local_rules.local_rules, name="setup_local_rules"),
    path("setup/local-rules/<slug:code>/", local_rules.local_rule, name="local_rule"),
    path("setup/local-rules/<slug:code>/change/", local_rules.local_rule_change, name="local_rule_change"),
    path("setup/local-rules/<slug:code>/<str:version>/", local_rules.local_rule_version, name="local_rule_version"),
    path("p/questions/", questions.start, name="questions"),
    path("p/questions/done/", questions.done, name="questions_done"),
    path("p/questions/shown/", questions.shown, name="questions_shown"),
    path("p/questions/thanks/", questions.thanks, name="questions_thanks"),
    path("p/questions/<slug:name>/", questions.question, name="question"),
    path("p/reading/", questions.read_ahead, name="read_ahead"),
]
