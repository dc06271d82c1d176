from django.urls import path

from jobs.views import date_better, date_load, date_whatif, date_why, dates

urlpatterns = [
    path("", dates.dates, name="dates"),
    path("load/", date_load.date_load, name="load"),
    path("better-order/", date_better.better_order, name="better-order"),
    path("what-if/", date_whatif.what_if, name="what-if"),
    path("<str:number>/promise/", dates.promise_give, name="promise-give"),
    path("<str:number>/why/", date_why.date_why, name="why"),
    path("<str:number>/promises/", dates.promises, name="promises"),
]
