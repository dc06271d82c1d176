"""Short addresses, as they stand in codes on papers: the shorter, the larger the modules of the code."""

from django.urls import path

from jobs.views import scan

urlpatterns = [
    path("<int:pk>/", scan.scan_panel, name="scan-panel"),
    path("<int:pk>/<slug:slug>/", scan.scan_work, name="scan-work"),
]
