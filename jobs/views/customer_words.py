"""Where a commission stands, and what it waits for, in the customer's words."""

from dataclasses import dataclass
from datetime import date

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from jobs.models import Gate, GateKind, Job, Quote, Stage
from jobs.models.approvals import Drawings
from jobs.models.progress import Progress


@dataclass(frozen=True, slots=True)
class Needed:
    """Something that the work waits for: a heading and a sentence. `theirs`: the customer can do something about it."""

    what: str
    words: str
    by: date | None
    theirs: bool = True


def standing(job: Job, progress: Progress, needed: list[Needed]) -> str:
    """One sentence: where it stands."""
    match job.stage:
        case Stage.ENQUIRY:
            return _("We are working out what you asked us for.")
        case Stage.QUOTED:
            return _("Our quote is with you. We begin when you order.")
        case Stage.COMPLETE:
            return _("It is finished. Thank you for the commission.")
        case Stage.CANCELLED | Stage.DECLINED:
            return _("This commission is closed; nothing is being made.")
    panels, ready = len(progress.panels), progress.ready
    if panels and ready == panels:
        return _on_the_way(progress)
    if progress.rests:
        return _("The work rests for the moment. We will tell you when it goes on.")
    if not progress.begun:
        if any(need.theirs for need in needed):
            return _("It is ordered. Before we can go on we need something from you.")
        return _("It is ordered and has its place in our work. We have not begun yet.")
    if ready:
        return _("We are making it: %(ready)d of %(all)d panels are ready.") % {
            "ready": ready,
            "all": panels,
        }
    return ngettext("We are making it.", "We are making it: %(all)d panels.", panels) % {"all": panels}


def _on_the_way(progress: Progress) -> str:
    if progress.whole.ready:
        return _("It is made, and it has left our studio.")
    if progress.whole.begun:
        return _("It is made, and it is on its way to you.")
    return ngettext(
        "It is made and ready.", "All %(all)d panels are made and ready.", len(progress.panels)
    ) % {"all": len(progress.panels)}


def needed_of(
    job: Job, gates: list[Gate], drawings: Drawings, quote: Quote | None, currency: str
) -> list[Needed]:
    """What the job waits for, the customer's own first. With a quote the deposit is told in money."""
    if job.stage not in (Stage.ENQUIRY, Stage.QUOTED, Stage.ORDERED):
        return []
    found = [_needed(gate, drawings, quote, currency) for gate in gates if gate.cleared is None]
    return sorted(found, key=lambda need: not need.theirs)


def _needed(gate: Gate, drawings: Drawings, quote: Quote | None, currency: str) -> Needed:
    match gate.kind:
        case GateKind.DRAWING:
            if drawings.asked:
                return Needed(
                    _("Your approval"), _("Please look at the drawings and approve them."), gate.expected
                )
            return Needed(
                _("The drawings"), _("We are drawing. We will ask you to approve it."), gate.expected, False
            )
        case GateKind.DEPOSIT:
            words = _("We begin when the deposit has come.")
            if quote is not None and quote.deposit:
                words = _("We begin when the deposit of %(money)s has come.") % {
                    "money": f"{currency} {number_format(quote.deposit, 2, use_l10n=True, force_grouping=True)}"
                }
            return Needed(_("The deposit"), words, gate.expected)
        case GateKind.MEASURED:
            words = _("We have to measure on site. Please tell us when somebody can let us in.")
            return Needed(_("A day to measure"), words, gate.expected)
    return Needed(_("The glass"), _("The glass is on its way to us."), gate.expected, False)
