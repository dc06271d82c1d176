from django.urls import path

from jobs.views import date_why, dates

urlpatterns = [
    path("", dates.dates, name="dates"),
    path("<str:number>/promise/", dates.promise_give, name="promise-give"),
    path("<str:number>/why/", date_why.date_why, name="why"),
    path("<str:number>/promises/", dates.promises, name="promises"),
]
