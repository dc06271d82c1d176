from django.urls import path

from jobs.views import papers

urlpatterns = [
    path("<str:number>/<int:panel>/traveler/", papers.paper_traveler, name="paper-traveler"),
]
