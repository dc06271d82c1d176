"""Tablets: looked at here, and paired and revoked on a page of their own. Sessions are not here at all: the key of one,
by which the admin would name it, is all that somebody needs to have it."""

from django.contrib import admin
from django.urls import reverse

from jobs.models import Tablet

from .base import LookedAtAdmin


@admin.register(Tablet)
class TabletAdmin(LookedAtAdmin):
    list_display = ("name", "account", "paired_at", "seen", "revoked_at")
    list_select_related = ("account",)
    search_fields = ("name", "account__username")
    exclude = ("code_digest", "secret_digest")

    def view_on_site(self, tablet: Tablet) -> str:
        return reverse("set-up-accounts")
