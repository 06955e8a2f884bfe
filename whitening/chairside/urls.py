from django.urls import path

from whitening.chairside.views import chair, lights, materials, papers, withdrawing

urlpatterns = [
    path("sessions/<int:session_pk>/record/", papers.session_record, name="session_record"),
    path("chair/<int:pk>/", chair.chairside, name="chairside"),
    path("chair/<int:pk>/screen/", chair.screen, name="chairside_screen"),
    path("chair/<int:pk>/event/", chair.event, name="chairside_event"),
    path("chair/<int:pk>/withdraw/", withdrawing.withdrawn, name="chairside_withdraw"),
    path("cases/<int:pk>/identity/", chair.identity, name="case_identity"),
    path("materials/", materials.materials, name="materials"),
    path("materials/batches/new/", materials.batch_new, name="batch_new"),
    path("materials/batches/<int:pk>/", materials.batch, name="batch"),
    path("materials/batches/<int:pk>/hold/", materials.hold, name="batch_hold"),
    path("materials/batches/<int:pk>/release/", materials.release, name="batch_release"),
    path("materials/batches/<int:pk>/waste/", materials.waste_some, name="batch_waste"),
    path("materials/lights/<int:pk>/", lights.light, name="light"),
    path("materials/lights/<int:pk>/check/", lights.check, name="light_check"),
]
