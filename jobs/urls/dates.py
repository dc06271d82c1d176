from django.urls import path

from jobs.views import dates

urlpatterns = [
    path("", dates.dates, name="dates"),
    path("<str:number>/promise/", dates.promise_give, name="promise-give"),
    path("<str:number>/promises/", dates.promises, name="promises"),
]
