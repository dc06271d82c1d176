from django.urls import path

from jobs.views import rates

urlpatterns = [
    path("", rates.rates, name="rates"),
    path("<slug:slug>/", rates.rate, name="rate"),
    path("change/<slug:slug>/learned/", rates.rates_decide, name="rates-decide"),
    path("change/<slug:slug>/rate/", rates.rate_set, name="rate-set"),
    path("change/<slug:slug>/set-up/", rates.rate_setup, name="rate-setup"),
]
