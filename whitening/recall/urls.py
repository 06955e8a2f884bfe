from django.urls import path

from whitening.recall.views import picking, replying, sheets, staff

urlpatterns = [
    path("followups/", staff.followups, name="followups"),
    path("followups/<int:pk>/call/", staff.attempt, name="followup_call"),
    path("followups/answers/<int:pk>/", staff.escalation, name="escalation"),
    path("sessions/<int:session_pk>/answers/", staff.type_reply, name="type_reply"),
    path("cases/<int:pk>/review/", staff.review, name="review"),
    path("p/how/", replying.how_are_you, name="how_are_you"),
    path("p/aftercare/", sheets.aftercare, name="aftercare"),
    path("p/how/<str:receipt>/", replying.said, name="how_are_you_said"),
    path("p/review/", picking.review_time, name="review_time"),
]
