"""What the list of open panels can be narrowed to; all of it stands in the address."""

from collections.abc import Iterable

from django import forms

from jobs.models import Job, State

STATES = [
    ("", "Any state"),
    (State.ON_BENCH, "On the bench"),
    (State.READY, "Ready"),
    (State.WAITING, "Waiting"),
    (State.HELD, "Held"),
]


class PanelFilter(forms.Form):
    """By job, customer, place and state. The choices are those that open panels have."""

    job = forms.ChoiceField(
        required=False, error_messages={"invalid_choice": "“%(value)s” is not an open job."}
    )
    customer = forms.ChoiceField(
        required=False, error_messages={"invalid_choice": "That customer has no open job."}
    )
    place = forms.ChoiceField(
        required=False, error_messages={"invalid_choice": "No open panel is at “%(value)s”."}
    )
    state = forms.ChoiceField(
        required=False, error_messages={"invalid_choice": "“%(value)s” is not a state of work."}
    )
    # Which station's queue is shown; the view knows the stations.
    waits = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: object, jobs: Iterable[Job], places: Iterable[str], waits: bool) -> None:
        super().__init__(data)  # type: ignore[arg-type]
        jobs = sorted(jobs, key=lambda job: job.number)
        customers = sorted({(job.customer.name, str(job.customer_id)) for job in jobs})
        self.fields["job"].choices = [("", "All jobs")] + [  # type: ignore[attr-defined]
            (job.number, str(job)) for job in jobs
        ]
        self.fields["customer"].choices = [("", "All customers")] + [  # type: ignore[attr-defined]
            (pk, name) for name, pk in customers
        ]
        self.fields["place"].choices = [("", "Any place")] + [  # type: ignore[attr-defined]
            (place, place) for place in sorted({place for place in places if place})
        ]
        # What waits for a station is not finished.
        finished = [] if waits else [(State.DONE, "Finished")]
        self.fields["state"].choices = [*STATES, *finished]  # type: ignore[attr-defined]

    @property
    def narrows(self) -> bool:
        return any(self.data.get(name) for name in ("job", "customer", "place", "state"))
