"""What the customer types to approve drawings, and what the office says about a customer's link."""

import re
from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from jobs.forms.fields import DayField

_SEEN = re.compile(r"(\d{1,5})-([0-9a-f]{64})")


class SeenField(forms.CharField):
    """The drawings that the page showed: the hash of each by the number of its panel."""

    def clean(self, value: Any) -> dict[int, str]:
        seen = {}
        for part in (value or "").split():
            found = _SEEN.fullmatch(part)
            if found is None:
                raise ValidationError(_("The page was not sent whole; please open it again."))
            seen[int(found[1])] = found[2]
        return seen


def seen_text(seen: Mapping[int, str]) -> str:
    """What SeenField reads."""
    return " ".join(f"{number}-{digest}" for number, digest in seen.items())


class ApprovalForm(forms.Form):
    """What is missing is refused by the action, in its own words."""

    looked = forms.BooleanField(label=_("I have looked at sizes, glass and layout"), required=False)
    name = forms.CharField(
        label=_("Your name"),
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    seen = SeenField(required=False)


class LinkForm(forms.Form):
    last_day = DayField(label="Opens until the end of")
    shows_window = forms.BooleanField(label="By when it is likely ready", required=False)
    shows_papers = forms.BooleanField(label="The papers meant for them", required=False)
    shows_prices = forms.BooleanField(label="Prices", required=False)
