from django.urls import path

from jobs.views import date_better, date_load, date_record, date_whatif, date_why, dates

urlpatterns = [
    path("", dates.dates, name="dates"),
    path("load/", date_load.date_load, name="load"),
    path("better-order/", date_better.better_order, name="better-order"),
    path("promises/", date_record.promise_record, name="promise-record"),
    path("look-back/", date_record.looked_back, name="look-back"),
    path("look-back/now/", date_record.look_back_now, name="look-back-now"),
    path("what-if/", date_whatif.what_if, name="what-if"),
    path("<str:number>/promise/", dates.promise_give, name="promise-give"),
    path("<str:number>/why/", date_why.date_why, name="why"),
    path("<str:number>/promises/", dates.promises, name="promises"),
]
