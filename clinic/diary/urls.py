from django.urls import path

from clinic.diary.views import before, bookings, closing, days, finding, printing, putting, setup, tablet, walk_in

urlpatterns = [
    path("diary/", days.today, name="diary"),
    path("diary/<str:day>/", days.day, name="diary_day"),
    path("diary/<str:day>/list/", printing.day_list, name="diary_list"),
    path("diary/<str:day>/week/", days.week, name="diary_week"),
    path("bookings/<int:pk>/", bookings.one, name="booking"),
    path("bookings/<int:pk>/cancel/", bookings.cancel, name="booking_cancel"),
    path("bookings/<int:pk>/tablet/", tablet.hand_over, name="booking_tablet"),
    path("bookings/<int:pk>/held/", bookings.held, name="booking_held"),
    path("bookings/<int:pk>/move/", finding.move, name="booking_move"),
    path("bookings/<int:pk>/put/", putting.put, name="booking_put"),
    path("bookings/<int:pk>/<slug:act>/", bookings.act, name="booking_act"),
    path("patients/<int:patient_pk>/here/", walk_in.here, name="walk_in"),
    path("patients/<int:patient_pk>/time/", finding.find_time, name="find_time"),
    path("setup/resources/", setup.resources, name="setup_resources"),
    path("setup/resources/<int:pk>/hours/", setup.hours, name="setup_hours"),
    path("setup/closures/", closing.closures, name="setup_closures"),
    path("setup/closures/<int:pk>/take-back/", closing.take_back, name="setup_closure_take_back"),
    path("setup/holidays/", closing.public_holidays, name="setup_holidays"),
    path("setup/resources/<int:pk>/visits/", setup.person_visits, name="setup_person_visits"),
    path("setup/visits/", setup.visits, name="setup_visits"),
    path("setup/visits/<int:pk>/", setup.visit, name="setup_visit"),
    path("p/before/", before.page, name="before_visit"),
]
