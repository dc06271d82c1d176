"""The taps of a bench by their names: each one's form, what it is about, and the action it asks for.

A tap comes through the line at once (bench.py), or later out of a tablet's outbox (outbox.py): it is the same tap.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.forms import Form
from django.utils.translation import gettext as _

from jobs.actions import Actor, Refused, bench, breakages, holds, hours, photos, pieces
from jobs.forms.bench import AnswerForm, BreakForm, FinishForm, HoldForm, PiecesForm, StartForm, TapForm
from jobs.forms.bench_drawing import BrokeForm, MarkForm
from jobs.forms.hours import WrittenForm
from jobs.forms.photos import BenchPhotoForm
from jobs.models import Breakage, Person
from jobs.models.reach import ENTRIES, HOLDS, OPERATIONS, Reach
from jobs.models.shipped import named
from jobs.views.hours import answered, write


@dataclass(frozen=True, slots=True)
class Tapped:
    """A tap on its way to its action: on what, by whom, what was typed, and when it happened.

    `late`: it was made while the line was away, where nobody could be asked anything.
    """

    row: Any
    person: Person
    form: Form
    by: Actor
    at: datetime
    late: bool = False

    @property
    def client_id(self) -> UUID | None:
        return self.form.cleaned_data["client_id"]  # type: ignore[no-any-return]

    @property
    def who(self) -> dict[str, Any]:
        """What every action is told."""
        return {"by": self.by, "at": self.at, "client_id": self.client_id}


@dataclass(frozen=True, slots=True)
class Verb:
    """`act` carries the tap out and gives what to say of it; `row` finds by its key what is tapped on, as far
    as the person reaches."""

    form: type[TapForm]
    act: Callable[[Tapped], str]
    row: Reach = OPERATIONS


def first_error(form: Form) -> str:
    return str(next(iter(form.errors.values()))[0])


def _start(tap: Tapped) -> str:
    bench.start(tap.row, tap.person, take_over=tap.form.cleaned_data["take_over"], late=tap.late, **tap.who)
    return ""


def _pause(tap: Tapped) -> str:
    bench.pause(tap.row, tap.person, **tap.who)
    return ""


def _put_back(tap: Tapped) -> str:
    bench.put_back(tap.row, **tap.who)
    return _("%(work)s is off the bench, for whoever is next.") % {"work": named(tap.row)}


def _pieces(tap: Tapped) -> str:
    counted = {"add": tap.form.cleaned_data["add"], "total": tap.form.cleaned_data["total"]}
    bench.count_pieces(tap.row, tap.person, **counted, **tap.who)
    return ""


def _finish(tap: Tapped) -> str:
    # Where nobody could ask, what was tapped is taken at its word.
    all_done = tap.form.cleaned_data["all_done"] or tap.late
    bench.finish(tap.row, tap.person, all_done=all_done, **tap.who)
    return _("%(work)s is finished.") % {"work": named(tap.row)}


def _reopen(tap: Tapped) -> str:
    bench.reopen(tap.row, **tap.who)
    return _("%(work)s is open again.") % {"work": named(tap.row)}


def _hold(tap: Tapped) -> str:
    holds.hold(tap.row, tap.form.cleaned_data["reason"], until=tap.form.cleaned_data["until"], **tap.who)
    words = {"work": named(tap.row), "reason": _(tap.form.cleaned_data["reason"])}
    return _("%(work)s is held: %(reason)s.") % words


def _break(tap: Tapped) -> str:
    many, note = tap.form.cleaned_data["pieces"], tap.form.cleaned_data["note"]
    return _written_down(breakages.break_pieces(tap.row, many, person=tap.person, note=note, **tap.who))


def _written_down(breakage: Breakage) -> str:
    return _("Written down. New work: %(work)s.") % {
        "work": "; ".join(named(row) for row in breakage.rework.all())
    }


def _mark(tap: Tapped) -> str:
    typed = tap.form.cleaned_data
    pieces.mark_pieces(
        tap.row,
        tap.person,
        pattern=typed["pattern"],
        copy=typed["copy"],
        numbers=typed["numbers"],
        step=typed["step"],
        done=typed["done"] != MarkForm.NO,
        **tap.who,
    )
    return ""


def _broke(tap: Tapped) -> str:
    typed = tap.form.cleaned_data
    named = breakages.Named(typed["pattern"], typed["copy"], frozenset(typed["numbers"]))
    some = len(named.numbers)
    return _written_down(
        breakages.break_pieces(tap.row, some, person=tap.person, note=typed["note"], named=named, **tap.who)
    )


def _photo(tap: Tapped) -> str:
    if tap.row.panel is None:
        raise Refused("That work is of no panel: take the photo at one.")
    typed = tap.form.cleaned_data
    photos.add_photo(tap.row.panel, typed["file"], caption=typed["caption"], **tap.who)
    return _("The photo is kept.")


def _release(tap: Tapped) -> str:
    holds.release(tap.row, **tap.who)
    return _("It goes on.")


def _answer(tap: Tapped) -> str:
    hours.answer(tap.row, answered(tap.form, tap.row, tap.at), **tap.who)
    return ""


def _hours(tap: Tapped) -> str:
    """What is written down on the page of the person's own hours; the work is what is tapped on."""
    write(tap.form, tap.row, tap.person, tap.who)  # type: ignore[arg-type]  # The verb's own form.
    return _("Written down.")


VERBS = {
    "start": Verb(StartForm, _start),
    "pause": Verb(TapForm, _pause),
    "put-back": Verb(TapForm, _put_back),
    "pieces": Verb(PiecesForm, _pieces),
    "finish": Verb(FinishForm, _finish),
    "reopen": Verb(TapForm, _reopen),
    "hold": Verb(HoldForm, _hold),
    "break": Verb(BreakForm, _break),
    "mark": Verb(MarkForm, _mark),
    "broke": Verb(BrokeForm, _broke),
    "photo": Verb(BenchPhotoForm, _photo),
    "release": Verb(TapForm, _release, HOLDS),
    "answer": Verb(AnswerForm, _answer, ENTRIES),
    "hours": Verb(WrittenForm, _hours),
}
