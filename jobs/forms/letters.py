"""What is typed for letters: the reason for another day, the site, and what letters say."""

from typing import Any

from django import forms

from jobs.forms.fields import LengthField
from jobs.models import LetterSettings, Studio


class NewDayForm(forms.Form):
    reason = forms.CharField(
        label="The reason, as the customer reads it",
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="From the plan, without other jobs, customers or people. Change it as you would say it.",
    )


class SiteForm(forms.Form):
    site_address = forms.CharField(
        label="Address",
        required=False,
        max_length=2000,
        help_text="Empty: the customer's.",
        widget=forms.Textarea(attrs={"rows": 3, "autofocus": True}),
    )
    site_contact = forms.CharField(label="Who lets us in", required=False, max_length=80)
    site_phone = forms.CharField(label="Phone", required=False, max_length=40)
    site_access = forms.CharField(
        label="Way in, parking, stairs, power",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def _text(name: str, help_text: str = "") -> forms.CharField:
    field: Any = LetterSettings._meta.get_field(name)
    label = str(field.verbose_name).capitalize()
    area = forms.Textarea(attrs={"rows": 6})
    return forms.CharField(label=label, required=False, max_length=6000, widget=area, help_text=help_text)


class LetterSettingsForm(forms.Form):
    """A point a line. Masses are in kilograms, whatever the studio measures in."""

    included = _text("included")
    not_included = _text("not_included")
    safety = _text(
        "safety", "A paragraph a line. Never promise that work complies: the local official decides."
    )
    handling = _text("handling")
    bring = _text("bring")
    sealants = _text("sealants")
    site_cautions = _text("site_cautions")
    checks = _text("checks")
    care = _text("care")
    lift_kg = forms.DecimalField(label="One person lifts, kg", max_digits=5, decimal_places=1)
    two_from_mm = LengthField(label="Two people from a side of")
    crate_panels = forms.IntegerField(label="Panels in a crate")
    crate_kg = forms.DecimalField(label="A crate weighs up to, kg", max_digits=6, decimal_places=1)
    board_kg_m2 = forms.DecimalField(label="Board of a crate, kg/m²", max_digits=5, decimal_places=1)

    def __init__(self, *args: Any, studio: Studio, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["two_from_mm"].unit = studio.units  # type: ignore[attr-defined]
