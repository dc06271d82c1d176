"""What is typed to let a tablet in, and on the tablet to pair it."""

from django import forms
from django.utils.translation import gettext_lazy as _

from jobs.models import Station


class TabletForm(forms.Form):
    name = forms.CharField(max_length=60, help_text="As it is called in the studio, such as Bevel 1.")
    station = forms.ModelChoiceField(
        Station.objects.filter(active=True), required=False, empty_label="any", help_text="It opens there."
    )


class PairForm(forms.Form):
    code = forms.CharField(
        label=_("Code"),
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )
