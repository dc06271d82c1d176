from django.urls import path

from jobs.views import bench, bench_drawing, bench_hours, outbox, worker

urlpatterns = [
    path("", bench.bench_choose, name="bench-choose"),
    # No station can have either name: a slug begins with a letter or figure and has no dot.
    path("-/outbox/", outbox.bench_outbox, name="bench-outbox"),
    path("worker.js", worker.bench_worker, name="bench-worker"),
    path("<slug:slug>/", bench.bench_page, name="bench"),
    path("<slug:slug>/person/", bench.bench_person, name="bench-person"),
    path("<slug:slug>/leave/", bench.bench_leave, name="bench-leave"),
    path("<slug:slug>/<int:pk>/start/", bench.bench_start, name="bench-start"),
    path("<slug:slug>/<int:pk>/pause/", bench.bench_pause, name="bench-pause"),
    path("<slug:slug>/<int:pk>/put-back/", bench.bench_put_back, name="bench-put-back"),
    path("<slug:slug>/<int:pk>/pieces/", bench.bench_pieces, name="bench-pieces"),
    path("<slug:slug>/<int:pk>/finish/", bench.bench_finish, name="bench-finish"),
    path("<slug:slug>/<int:pk>/reopen/", bench.bench_reopen, name="bench-reopen"),
    path("<slug:slug>/<int:pk>/hold/", bench.bench_hold, name="bench-hold"),
    path("<slug:slug>/<int:pk>/break/", bench.bench_break, name="bench-break"),
    path("<slug:slug>/<int:pk>/photo/", bench.bench_photo, name="bench-photo"),
    path("<slug:slug>/<int:pk>/release/", bench.bench_release, name="bench-release"),
    path("<slug:slug>/<int:pk>/answer/", bench.bench_answer, name="bench-answer"),
    # Another kind of address than those above, so that a tablet keeps these pages too (static/js/worker.js).
    path("<slug:slug>/drawing/<int:pk>/mark/", bench_drawing.bench_mark, name="bench-mark"),
    path("<slug:slug>/drawing/<int:pk>/broke/", bench_drawing.bench_broke, name="bench-broke"),
    path("<slug:slug>/drawing/<int:pk>/<int:copy>/", bench_drawing.bench_drawing, name="bench-drawing"),
    path(
        "<slug:slug>/drawing/<int:pk>/<int:copy>/marks/",
        bench_drawing.bench_drawing_marks,
        name="bench-drawing-marks",
    ),
    path("<slug:slug>/hours/", bench_hours.bench_hours, name="bench-hours"),
    path("<slug:slug>/hours/sheet/", bench_hours.bench_hours_sheet, name="bench-hours-sheet"),
    path("<slug:slug>/hours/confirm/", bench_hours.bench_hours_confirm, name="bench-hours-confirm"),
    path("<slug:slug>/hours/<int:pk>/correct/", bench_hours.bench_hours_correct, name="bench-hours-correct"),
    path(
        "<slug:slug>/hours/<int:pk>/take-back/",
        bench_hours.bench_hours_take_back,
        name="bench-hours-take-back",
    ),
]
