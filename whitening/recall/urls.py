from django.urls import path

from whitening.recall.views import answers, calls, followups, letters, owning, picking, replying, reviews, sheets

urlpatterns = [
    path("followups/", followups.followups, name="followups"),
    path("followups/views/", followups.view_keep, name="view_keep"),
    path("followups/views/delete/", followups.view_delete, name="view_delete"),
    path("followups/<int:pk>/call/", calls.attempt, name="followup_call"),
    path("followups/<int:pk>/owner/", owning.followup_owner, name="followup_owner"),
    path("followups/answers/<int:pk>/owner/", owning.escalation_owner, name="escalation_owner"),
    path("followups/astray/<int:pk>/", calls.message_astray, name="message_astray"),
    path("followups/messages/<int:pk>/", calls.message_call, name="message_call"),
    path("followups/answers/<int:pk>/", answers.escalation, name="escalation"),
    path("followups/answers/<int:pk>/take/", answers.take, name="escalation_take"),
    path("sessions/<int:session_pk>/answers/", answers.type_reply, name="type_reply"),
    path("sessions/<int:session_pk>/aftercare/", sheets.make_sheet, name="aftercare_make"),
    path("cases/<int:pk>/result-letter/", letters.result, name="result_letter"),
    path("cases/<int:pk>/result-letter/send/", letters.send_result, name="result_send"),
    path("cases/<int:pk>/check-letter/", letters.check, name="check_letter"),
    path("cases/<int:pk>/review/", reviews.review, name="review"),
    path("p/how/", replying.how_are_you, name="how_are_you"),
    path("p/aftercare/", sheets.aftercare, name="aftercare"),
    path("p/how/result/", letters.own_result, name="result_so_far"),
    path("p/how/consent/", sheets.consent_paper, name="consent_paper_after"),
    path("p/how/<str:receipt>/", replying.said, name="how_are_you_said"),
    path("p/letter/", letters.own_letter, name="own_result"),
    path("p/review/", picking.review_time, name="review_time"),
]
