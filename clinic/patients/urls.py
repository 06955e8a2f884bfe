from django.urls import path

from clinic.patients.views import lists, register

urlpatterns = [
    path("patients/", lists.register, name="patients"),
    path("patients/new/", register.new, name="patient_new"),
    path("patients/look-alikes/", register.look_alikes, name="patient_look_alikes"),
    path("patients/<int:pk>/", lists.one, name="patient"),
    path("patients/<int:pk>/died/", lists.died, name="patient_died"),
    path("patients/<int:pk>/moved/", lists.moved, name="patient_moved"),
    path("patients/<int:pk>/number/", lists.number, name="patient_number"),
    path("patients/<int:pk>/change/", register.change, name="patient_change"),
]
