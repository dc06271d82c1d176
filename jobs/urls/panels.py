from django.urls import path

from jobs.views.panels import panels

urlpatterns = [
    path("", panels, name="panels"),
]
