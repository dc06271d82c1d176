from django.urls import path

from jobs.api.door import door

urlpatterns = [
    path("v1/<path:rest>", door, name="api"),
]
