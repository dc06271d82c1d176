from django.urls import path

from jobs.views import letters

urlpatterns = [
    path("quotes/<str:number>/<int:version>/", letters.quote_paper, name="quote-paper"),
    path("letters/<str:number>/new-day/", letters.new_day, name="letter-new-day"),
    path("letters/<str:number>/<slug:paper>/", letters.letter, name="letter"),
]
