"""Every address of the application, grouped by what it is about."""

from django.urls import include, path

urlpatterns = [
    path("", include("jobs.urls.floor")),
    path("", include("jobs.urls.account")),
    path("changed/", include("jobs.urls.changed")),
    path("bench/", include("jobs.urls.bench")),
    path("hours/", include("jobs.urls.hours")),
    path("photos/", include("jobs.urls.photos")),
    path("panels/", include("jobs.urls.panels")),
    path("jobs/", include("jobs.urls.jobs")),
    path("materials/", include("jobs.urls.materials")),
    path("dates/", include("jobs.urls.dates")),
    path("rates/", include("jobs.urls.rates")),
    path("records/", include("jobs.urls.records")),
    path("mail/", include("jobs.urls.mail")),
    path("set-up/", include("jobs.urls.setup_told")),
    path("c/", include("jobs.urls.customer")),
    path("papers/", include("jobs.urls.letters")),
    path("papers/", include("jobs.urls.papers")),
    path("s/", include("jobs.urls.scan")),
    path("set-up/", include("jobs.urls.setup")),
    path("api/", include("jobs.urls.api")),
    path("history/", include("jobs.urls.history")),
]
