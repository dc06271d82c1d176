from django.urls import path

from jobs.views import calendars, customer

urlpatterns = [
    path("<str:token>.ics", calendars.calendar_feed, name="calendar-feed"),
    path("<str:token>/", customer.customer_page, name="customer-page"),
    path("<str:token>/approve/", customer.customer_approve, name="customer-approve"),
    path("<str:token>/day.ics", customer.customer_day, name="customer-day"),
    path("<str:token>/photos/<int:pk>.jpg", customer.customer_photo, name="customer-photo"),
    path("<str:token>/papers/<slug:slug>/", customer.customer_paper, name="customer-paper"),
]
