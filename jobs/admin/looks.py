"""Rows that are looked at here and changed elsewhere: by a page of our own, or never."""

from typing import Any

from django.contrib import admin
from django.urls import reverse

from jobs.models import (
    Account,
    Breakage,
    ClosedDay,
    CustomerLink,
    DayOff,
    DrawingApproval,
    Event,
    ExtraHours,
    Gate,
    Hold,
    LateTap,
    LoadWeek,
    Person,
    PersonWeek,
    Photo,
    PlanState,
    Projection,
    Promise,
    Shift,
    Skill,
    Station,
    Studio,
    Tap,
    TimeEntry,
)

from .base import LookedAtAdmin, LookedAtInline


class SkillInline(LookedAtInline):
    model = Skill


class ShiftInline(LookedAtInline):
    model = Shift


class DayOffInline(LookedAtInline):
    model = DayOff


class ExtraHoursInline(LookedAtInline):
    model = ExtraHours


@admin.register(Person)
class PersonAdmin(LookedAtAdmin):
    list_display = ("name", "active", "hourly_cost")
    list_filter = ("active",)
    search_fields = ("name",)
    inlines = (SkillInline, ShiftInline, DayOffInline, ExtraHoursInline)

    def view_on_site(self, person: Person) -> str:
        return reverse("set-up-person", args=[person.pk])


@admin.register(Station)
class StationAdmin(LookedAtAdmin):
    list_display = ("name", "place", "benches", "active")
    search_fields = ("name",)

    def view_on_site(self, station: Station) -> str:
        return f"{reverse('set-up-stations')}#station-{station.pk}"


@admin.register(ClosedDay)
class ClosedDayAdmin(LookedAtAdmin):
    list_display = ("day", "name")
    search_fields = ("name",)
    date_hierarchy = "day"

    def view_on_site(self, closed: ClosedDay) -> str:
        return reverse("set-up-closed-days")


@admin.register(Studio)
class StudioAdmin(LookedAtAdmin):
    list_display = ("name", "time_zone", "units", "currency", "confidence")

    def view_on_site(self, studio: Studio) -> str:
        return reverse("set-up-studio")


@admin.register(Account)
class AccountAdmin(LookedAtAdmin):
    list_display = ("username", "role", "station", "person", "is_active", "last_login")
    list_filter = ("role", "is_active")
    list_select_related = ("station", "person")
    search_fields = ("username", "first_name", "last_name")
    # Without the password, which is nobody's to look at.
    fields = (
        "username",
        "first_name",
        "last_name",
        "role",
        "station",
        "person",
        "is_active",
        "date_joined",
        "last_login",
    )

    def view_on_site(self, account: Account) -> str:
        return reverse("set-up-account", args=[account.pk])


@admin.register(TimeEntry)
class TimeEntryAdmin(LookedAtAdmin):
    """The raw hours: a correction makes a new row, and none is ever changed or deleted."""

    list_display = ("person", "operation", "started_at", "stopped_at", "minutes", "questioned", "voided_at")
    list_filter = ("questioned", "source", ("voided_at", admin.EmptyFieldListFilter), "person")
    list_select_related = ("person", "operation__kind")
    search_fields = ("person__name", "operation__job__number", "note")
    date_hierarchy = "started_at"


@admin.register(Event)
class EventAdmin(LookedAtAdmin):
    list_display = ("at", "who", "verb", "subject", "subject_id", "job", "panel", "why")
    list_filter = ("subject", "verb")
    list_select_related = ("account", "person", "job", "panel__job")
    search_fields = ("verb", "subject", "why", "job__number", "account__username", "person__name")
    date_hierarchy = "at"

    @admin.display(description="who")
    def who(self, event: Event) -> str:
        return str(event.person or event.account or "the studio")


@admin.register(Promise)
class PromiseAdmin(LookedAtAdmin):
    list_display = ("job", "day", "given_at", "given_by", "told", "reason", "chance")
    list_select_related = ("job", "given_by")
    search_fields = ("job__number", "told")


@admin.register(Gate)
class GateAdmin(LookedAtAdmin):
    list_display = ("job", "kind", "expected", "cleared")
    list_filter = ("kind", ("cleared", admin.EmptyFieldListFilter))
    list_select_related = ("job",)
    search_fields = ("job__number", "job__title")


@admin.register(Hold)
class HoldAdmin(LookedAtAdmin):
    list_display = ("reason", "job", "panel", "operation", "since", "until", "released_at")
    list_filter = (("released_at", admin.EmptyFieldListFilter),)
    list_select_related = ("job", "panel__job", "operation__kind")
    search_fields = ("reason", "held_by")


@admin.register(Breakage)
class BreakageAdmin(LookedAtAdmin):
    list_display = ("operation", "pieces", "at", "person", "note")
    list_select_related = ("operation__kind", "person")
    search_fields = ("operation__job__number", "note")
    date_hierarchy = "at"


@admin.register(PlanState)
class PlanStateAdmin(LookedAtAdmin):
    list_display = ("revision", "planned_revision", "planned_at", "futures", "tightest")
    list_select_related = ("tightest",)


@admin.register(Projection)
class ProjectionAdmin(LookedAtAdmin):
    list_display = ("of", "p50", "p80", "p95", "chance", "person", "rank")
    list_select_related = ("job", "panel__job", "operation__kind", "operation__job", "person")
    search_fields = ("job__number", "panel__job__number", "operation__job__number")

    @admin.display(description="of")
    def of(self, row: Projection) -> Any:
        operation = row.operation
        return row.job or row.panel or (f"{operation.job.number} {operation}" if operation else "–")


@admin.register(LoadWeek)
class LoadWeekAdmin(LookedAtAdmin):
    list_display = ("station", "week", "work", "work_80", "capacity")
    list_filter = ("station",)
    list_select_related = ("station",)


@admin.register(PersonWeek)
class PersonWeekAdmin(LookedAtAdmin):
    list_display = ("person", "week", "work", "work_80", "there")
    list_filter = ("person",)
    list_select_related = ("person",)


@admin.register(Photo)
class PhotoAdmin(LookedAtAdmin):
    list_display = ("panel", "taken_at", "taken_by", "caption", "shared_at")
    list_select_related = ("panel__job", "person", "account")
    search_fields = ("panel__job__number", "caption")
    date_hierarchy = "taken_at"
    # Only by its page: the address of a file opens nothing.
    exclude = ("file", "small")


@admin.register(Tap)
class TapAdmin(LookedAtAdmin):
    list_display = ("at", "verb", "client_id")
    list_filter = ("verb",)
    date_hierarchy = "at"


@admin.register(LateTap)
class LateTapAdmin(LookedAtAdmin):
    list_display = ("happened_at", "person", "verb", "sentence", "settled_at")
    list_filter = ("verb", "stands")


@admin.register(CustomerLink)
class CustomerLinkAdmin(LookedAtAdmin):
    list_display = ("job", "made_at", "last_day", "revoked_at", "times_read", "last_read_at")
    list_select_related = ("job",)
    search_fields = ("job__number", "job__title")
    exclude = ("seed", "digest")
    ordering = ("-pk",)

    def view_on_site(self, link: CustomerLink) -> str:
        return f"{link.job.get_absolute_url()}#customers-page"


@admin.register(DrawingApproval)
class DrawingApprovalAdmin(LookedAtAdmin):
    list_display = ("panel", "name", "at", "version", "withdrawn_at")
    list_select_related = ("panel__job",)
    search_fields = ("panel__job__number", "panel__name", "name")
    exclude = ("shown",)
    ordering = ("-at",)

    def view_on_site(self, approval: DrawingApproval) -> str:
        return reverse("drawing-approval", args=[approval.panel.job.number, approval.pk])
