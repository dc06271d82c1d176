from django.urls import path

from jobs.views import records

urlpatterns = [
    path("", records.records, name="records"),
    path("margins/", records.record_margins, name="record-margins"),
    path("outliers/", records.record_outliers, name="record-outliers"),
    path("breakage/", records.record_breakage, name="record-breakage"),
]
