"""What is typed about a panel."""

from typing import Any

from django import forms

from jobs.forms.fields import LengthField
from jobs.models import Panel, Studio


class PanelAboutForm(forms.Form):
    name = forms.CharField(max_length=80, widget=forms.TextInput(attrs={"autofocus": True}))
    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    thickness_mm = LengthField(label="Glass thickness")
    pieces = forms.IntegerField(label="Pieces in one", min_value=1, max_value=20_000)
    copies = forms.IntegerField(label="Copies", min_value=1, max_value=500)
    scale_hours = forms.BooleanField(required=False, label="Change the estimates with the pieces and copies")

    def __init__(self, *args: Any, panel: Panel, studio: Studio, **options: Any) -> None:
        initial = {name: getattr(panel, name) for name in self.base_fields if hasattr(panel, name)}
        super().__init__(*args, **{"initial": initial, **options})
        for name in ("width_mm", "height_mm", "thickness_mm"):
            self.fields[name].unit = studio.units  # type: ignore[attr-defined]


class WhereForm(forms.Form):
    where = forms.CharField(
        label="Where it is", max_length=60, required=False, widget=forms.TextInput(attrs={"autofocus": True})
    )
