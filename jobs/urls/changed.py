from django.urls import path

from jobs.views import day_changes

urlpatterns = [
    path("", day_changes.changed, name="changed"),
    path("<int:pk>/take-back/", day_changes.change_take_back, name="change-take-back"),
    path("<slug:kind>/", day_changes.change_say, name="change-say"),
]
