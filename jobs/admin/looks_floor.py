"""What was marked and said on the floor: looked at here, changed at the bench and by the lead's own pages."""

from django.contrib import admin

from jobs.models import BrokenPiece, DayChange, PieceMark, Workshop

from .base import LookedAtAdmin


@admin.register(Workshop)
class WorkshopAdmin(LookedAtAdmin):
    list_display = ("name", "slug", "place")
    search_fields = ("name",)


@admin.register(PieceMark)
class PieceMarkAdmin(LookedAtAdmin):
    list_display = ("operation", "copy", "number", "step", "person", "at", "undone_at")
    list_select_related = ("operation__kind", "person")
    search_fields = ("operation__job__number",)
    date_hierarchy = "at"


@admin.register(BrokenPiece)
class BrokenPieceAdmin(LookedAtAdmin):
    list_display = ("breakage", "copy", "number")
    list_select_related = ("breakage__operation__kind",)
    search_fields = ("breakage__operation__job__number",)


@admin.register(DayChange)
class DayChangeAdmin(LookedAtAdmin):
    list_display = ("kind", "person", "station", "job", "since", "until", "written_by", "ended_at")
    list_select_related = ("person", "station", "job__customer")
    list_filter = ("kind",)
    search_fields = ("job__number", "why")
    date_hierarchy = "since"
