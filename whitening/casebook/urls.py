from django.urls import path

from whitening.casebook.views import cases, courses, deferring, inviting, papers, starting, times, todays

urlpatterns = [
    path("", todays.today, name="today"),
    path("patients/<int:patient_pk>/case/", cases.new, name="case_new"),
    path("cases/<int:pk>/", cases.one, name="case"),
    path("cases/<int:pk>/close/", cases.close, name="case_close"),
    path("cases/<int:pk>/papers/", papers.case_papers, name="case_papers"),
    path("cases/<int:pk>/link/", cases.send_link, name="case_link"),
    path("cases/<int:pk>/put-off/", deferring.put_off, name="case_put_off"),
    path("cases/<int:pk>/put-off/lift/", deferring.lift, name="case_put_off_lift"),
    path("cases/<int:pk>/course/", courses.find, name="case_course"),
    path("cases/<int:pk>/course/book/", courses.book_held, name="case_course_book"),
    path("cases/<int:pk>/course/let-go/", courses.let_go, name="case_course_let_go"),
    path("cases/<int:pk>/time/confirm/", times.confirm_all, name="case_times_confirm"),
    path("cases/<int:pk>/pick/<slug:purpose>/", inviting.invite, name="case_pick"),
    path("cases/<int:pk>/time/<slug:purpose>/", times.find, name="case_time"),
    path("cases/<int:pk>/time/<int:visit_pk>/confirm/", times.confirm, name="case_time_confirm"),
    path("cases/<int:pk>/sessions/<int:visit_pk>/start/", starting.start, name="session_start"),
]
