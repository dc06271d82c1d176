"""What is typed about groups of the studio's own."""

from django import forms

from jobs.models import May
from jobs.models.permissions import own_groups


class GroupForm(forms.Form):
    name = forms.CharField(max_length=60)
    may = forms.MultipleChoiceField(
        label="Whoever is in it may, besides what their role may",
        choices=May.choices,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one thing that the group may."},
    )


class MembershipForm(forms.Form):
    groups = forms.ModelMultipleChoiceField(
        own_groups(), required=False, label="In groups", widget=forms.CheckboxSelectMultiple
    )
