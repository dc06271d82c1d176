"""What estimates and quotes are made of. What is bought is changed here; the rest is looked at."""

from django.contrib import admin

from jobs.models import (
    Came,
    Glass,
    KindSetup,
    LaborRate,
    Material,
    Need,
    OutsidePrice,
    Pattern,
    Quote,
    QuoteLine,
    QuoteSettings,
    Rate,
    Supplier,
    Takeoff,
)

from .base import LookedAtAdmin, LookedAtInline, Recorded


class BoughtAdmin(Recorded):
    planner_reads = False
    list_filter = ("active",)


@admin.register(Glass)
class GlassAdmin(BoughtAdmin):
    list_display = ("name", "thickness_mm", "beveled", "price_m2", "waste", "supplier", "active")
    list_select_related = ("supplier",)
    search_fields = ("name",)


@admin.register(Came)
class CameAdmin(BoughtAdmin):
    list_display = ("profile", "face_mm", "heart_mm", "stick_mm", "price", "inner", "border", "active")
    search_fields = ("profile",)


@admin.register(Supplier)
class SupplierAdmin(BoughtAdmin):
    list_display = ("name", "days", "active")
    search_fields = ("name",)


@admin.register(Material)
class MaterialAdmin(BoughtAdmin):
    list_display = ("name", "unit", "price", "driver", "amount", "supplier", "active")
    list_select_related = ("supplier",)
    search_fields = ("name",)


@admin.register(LaborRate)
class LaborRateAdmin(LookedAtAdmin):
    list_display = ("kind", "hour")
    list_select_related = ("kind",)


@admin.register(OutsidePrice)
class OutsidePriceAdmin(LookedAtAdmin):
    list_display = ("kind", "supplier", "price_m2", "minimum", "days")
    list_select_related = ("kind", "supplier")


@admin.register(QuoteSettings)
class QuoteSettingsAdmin(LookedAtAdmin):
    list_display = ("__str__", "markup", "design_fee", "tax", "deposit", "valid_days")


@admin.register(Pattern)
class PatternAdmin(LookedAtAdmin):
    list_display = ("panel", "version", "file_name", "uploaded_at", "uploaded_by", "accepted_at")
    list_select_related = ("panel__job", "uploaded_by")
    search_fields = ("panel__job__number", "panel__name", "file_name")
    exclude = ("lines", "drawing", "measured")


@admin.register(Takeoff)
class TakeoffAdmin(LookedAtAdmin):
    list_display = ("panel", "version", "source", "at", "by")
    list_select_related = ("panel__job", "by")
    search_fields = ("panel__job__number", "panel__name")


@admin.register(Rate)
class RateAdmin(LookedAtAdmin):
    list_display = ("kind", "step", "driver", "minutes", "since", "accepted_by", "note")
    list_filter = ("kind",)
    list_select_related = ("kind", "accepted_by")


@admin.register(KindSetup)
class KindSetupAdmin(LookedAtAdmin):
    list_display = ("kind", "minutes", "slope", "since", "accepted_by", "note")
    list_select_related = ("kind", "accepted_by")


@admin.register(Need)
class NeedAdmin(LookedAtAdmin):
    list_display = ("__str__", "job", "panel", "needed_by", "ordered", "expected", "arrived")
    list_filter = (("arrived", admin.EmptyFieldListFilter), "supplier")
    list_select_related = ("job", "panel__job", "glass", "came", "material", "outside__kind", "supplier")
    search_fields = ("job__number", "note")


class QuoteLineInline(LookedAtInline):
    model = QuoteLine


@admin.register(Quote)
class QuoteAdmin(LookedAtAdmin):
    list_display = ("job", "version", "state", "total", "ready_day", "valid_until", "sent_at", "answered_at")
    list_filter = ("state",)
    list_select_related = ("job",)
    search_fields = ("job__number", "job__title")
    inlines = (QuoteLineInline,)
