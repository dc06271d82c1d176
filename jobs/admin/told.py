"""What was said of hours, what goes to customers and who is at work: looked at here, changed on pages of our own."""

from django.contrib import admin
from django.urls import reverse

from jobs.models import (
    ApiToken,
    Asked,
    CalendarEntry,
    CalendarLink,
    ClosedWeek,
    ConfirmedDay,
    Lease,
    LetterSettings,
    Mail,
    MailPaper,
    MailTemplate,
    PaperBundle,
    SentQuote,
)

from .base import LookedAtAdmin


@admin.register(ConfirmedDay)
class ConfirmedDayAdmin(LookedAtAdmin):
    list_display = ("person", "day", "minutes", "confirmed_at")
    list_select_related = ("person",)
    search_fields = ("person__name",)


@admin.register(ClosedWeek)
class ClosedWeekAdmin(LookedAtAdmin):
    list_display = ("monday", "closed_at", "closed_by")
    list_select_related = ("closed_by",)
    search_fields = ("closed_by__username",)


@admin.register(Mail)
class MailAdmin(LookedAtAdmin):
    list_display = ("subject", "job", "kind", "to", "state", "sent_at")
    list_filter = ("state", "kind")
    list_select_related = ("job",)
    search_fields = ("subject", "to", "job__number")


@admin.register(MailPaper)
class MailPaperAdmin(LookedAtAdmin):
    list_display = ("name", "mail")
    list_select_related = ("mail",)
    search_fields = ("name",)
    exclude = ("content",)


@admin.register(MailTemplate)
class MailTemplateAdmin(LookedAtAdmin):
    list_display = ("kind", "subject")
    search_fields = ("subject",)


@admin.register(CalendarLink)
class CalendarLinkAdmin(LookedAtAdmin):
    """Without what the secret address is made of."""

    list_display = ("person", "made_at", "made_by", "revoked_at")
    list_select_related = ("person", "made_by")
    search_fields = ("person__name",)
    exclude = ("seed", "digest")


@admin.register(CalendarEntry)
class CalendarEntryAdmin(LookedAtAdmin):
    list_display = ("summary", "job", "person", "day", "cancelled")
    list_select_related = ("job", "person")
    search_fields = ("summary", "job__number")


@admin.register(LetterSettings)
class LetterSettingsAdmin(LookedAtAdmin):
    list_display = ("pk", "lift_kg", "crate_kg")
    search_fields = ("included",)


@admin.register(SentQuote)
class SentQuoteAdmin(LookedAtAdmin):
    list_display = ("quote", "made_at", "made_by")
    list_select_related = ("quote__job", "made_by")
    search_fields = ("quote__job__number",)


@admin.register(Asked)
class AskedAdmin(LookedAtAdmin):
    list_display = ("what", "number", "until")
    search_fields = ("what",)


@admin.register(ApiToken)
class ApiTokenAdmin(LookedAtAdmin):
    list_display = ("name", "scope", "made_at", "last_day", "revoked_at", "last_used_at")
    list_filter = ("scope", ("revoked_at", admin.EmptyFieldListFilter))
    search_fields = ("name",)
    exclude = ("digest",)

    def view_on_site(self, token: ApiToken) -> str:
        return reverse("set-up-tokens")


@admin.register(Lease)
class LeaseAdmin(LookedAtAdmin):
    list_display = ("name", "until")
    exclude = ("holder",)


@admin.register(PaperBundle)
class PaperBundleAdmin(LookedAtAdmin):
    list_display = ("asked_at", "job", "owner", "done", "total", "broken")
    list_select_related = ("job", "owner")
    exclude = ("key", "file")
