"""What is typed on the pages of mail and of its words."""

from collections.abc import Iterable
from typing import Any

from django import forms

from jobs.models import MailKind


class MailForm(forms.Form):
    """A draft. `offered` are (name, title) of the papers that may go with it."""

    to = forms.CharField(label="To", max_length=254, required=False, strip=False)
    subject = forms.CharField(label="Subject", max_length=150, strip=False)
    body = forms.CharField(label="Text", widget=forms.Textarea(attrs={"rows": 14}), strip=False)
    papers = forms.MultipleChoiceField(
        label="Papers that go with it", widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(self, *args: Any, offered: Iterable[tuple[str, str]] = (), **options: Any) -> None:
        super().__init__(*args, **options)
        choices = list(offered)
        if choices:
            self.fields["papers"].choices = choices  # type: ignore[attr-defined]
        else:
            del self.fields["papers"]


class NewMailForm(forms.Form):
    kind = forms.ChoiceField(label="About", choices=MailKind.choices)


class WordsForm(forms.Form):
    """The words of one kind of mail, and the number of the job that they are tried with."""

    subject = forms.CharField(label="Subject", max_length=150, strip=False)
    body = forms.CharField(label="Text", widget=forms.Textarea(attrs={"rows": 14}), strip=False)
    job = forms.CharField(label="Number of a job", max_length=20, required=False)
