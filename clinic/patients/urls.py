from django.urls import path

from clinic.patients.views import joining, lists, register

urlpatterns = [
    path("patients/", lists.register, name="patients"),
    path("patients/new/", register.new, name="patient_new"),
    path("patients/look-alikes/", register.look_alikes, name="patient_look_alikes"),
    path("patients/<int:pk>/", lists.one, name="patient"),
    path("patients/<int:pk>/died/", lists.died, name="patient_died"),
    path("patients/<int:pk>/moved/", lists.moved, name="patient_moved"),
    path("patients/<int:pk>/number/", lists.number, name="patient_number"),
    path("patients/<int:pk>/same/", joining.same, name="patient_same"),
    path("patients/<int:pk>/same/<int:other_pk>/", joining.compare, name="patient_compare"),
    path("patients/<int:pk>/same/<int:other_pk>/join/", joining.join, name="patient_join"),
    path("patients/<int:pk>/apart/", joining.part, name="patient_part"),
    path("patients/<int:pk>/change/", register.change, name="patient_change"),
]
