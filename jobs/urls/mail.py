from django.urls import path

from jobs.views import mail

urlpatterns = [
    path("", mail.mail_list, name="mail-list"),
    path("new/<str:number>/", mail.mail_new, name="mail-new"),
    path("<int:pk>/", mail.mail, name="mail"),
    path("<int:pk>/papers/<slug:slug>/", mail.mail_paper, name="mail-paper"),
    path("<int:pk>/<slug:verb>/", mail.mail_do, name="mail-do"),
]
