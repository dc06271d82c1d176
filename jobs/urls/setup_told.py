from django.urls import path

from jobs.views import calendars, setup_mail

urlpatterns = [
    path("mail/", setup_mail.template_list, name="set-up-mail"),
    path("mail/<slug:kind>/", setup_mail.template_page, name="set-up-mail-words"),
    path("mail/<slug:kind>/usual/", setup_mail.template_usual, name="set-up-mail-usual"),
    path("calendars/", calendars.calendar_list, name="set-up-calendars"),
    path("calendars/<slug:verb>/", calendars.calendar_do, name="set-up-calendar-do"),
]
