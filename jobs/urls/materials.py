from django.urls import path

from jobs.views import materials

urlpatterns = [
    path("", materials.materials, name="materials"),
    path("add/", materials.need_add, name="need-add"),
    path("<int:pk>/<slug:verb>/", materials.need_do, name="need-do"),
]
