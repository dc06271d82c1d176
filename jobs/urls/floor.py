from django.urls import path

from jobs.views.floor import floor
from jobs.views.late import late_settle
from jobs.views.overview import workshops
from jobs.views.pulse import pulse

urlpatterns = [
    path("", floor, name="floor"),
    path("workshops/", workshops, name="workshops"),
    path("pulse/", pulse, name="pulse"),
    path("late/<int:pk>/settle/", late_settle, name="late-settle"),
]
