from django.urls import path

from jobs.views import hours, weeks

urlpatterns = [
    path("", hours.hours_page, name="hours"),
    path("week/", weeks.hours_week, name="hours-week"),
    path("week/close/", weeks.hours_week_close, name="hours-week-close"),
    path("sheet/", weeks.hours_sheet, name="hours-sheet"),
    path("write/", hours.hours_write, name="hours-write"),
    path("<int:pk>/answer/", hours.hours_answer, name="hours-answer"),
    path("<int:pk>/correct/", hours.hours_correct, name="hours-correct"),
    path("<int:pk>/take-back/", hours.hours_take_back, name="hours-take-back"),
]
