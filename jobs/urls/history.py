from django.urls import path

from jobs.views import audit

urlpatterns = [
    path("", audit.history, name="history"),
    path("csv/", audit.history_csv, name="history-csv"),
]
