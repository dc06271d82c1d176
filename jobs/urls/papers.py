from django.urls import path

from jobs.views import papers

urlpatterns = [
    path("<str:number>/<int:panel>/traveler/", papers.paper_traveler, name="paper-traveler"),
    path("<str:number>/<int:panel>/labels/", papers.paper_labels, name="paper-labels"),
]
