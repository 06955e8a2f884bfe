from django.urls import URLPattern, path

from whitening.demo.views import clock, look, mailbox

urlpatterns: list[URLPattern] = [
    path("demo/mailbox/", mailbox.mailbox, name="demo_mailbox"),
    path("demo/mailbox/<int:pk>/", mailbox.mail, name="demo_mail"),
    path("demo/clock/", clock.clock_page, name="demo_clock"),
    path("demo/look/", look.staff_page, name="demo_look"),
    path("demo/look/patient/", look.patient_page, name="demo_look_patient"),
    path("demo/look/chairside/", look.chairside_page, name="demo_look_chairside"),
]
