from django.urls import path

from jobs.views.floor import floor

urlpatterns = [
    path("", floor, name="floor"),
]
