"""The list of jobs that is read in."""

from django import forms


class ImportForm(forms.Form):
    file = forms.FileField(
        label="List of jobs, CSV",
        help_text="UTF-8, at most 2 MB and 5000 lines.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,text/csv"}),
        allow_empty_file=True,
    )
