"""Quotes: made from takeoffs and rates, changed while they are drafts, frozen when sent, accepted or declined."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from jobs.estimating import pricing
from jobs.models import (
    GateKind,
    Job,
    LineGroup,
    MailKind,
    Quote,
    QuoteLine,
    QuoteSettings,
    QuoteState,
    Stage,
    Studio,
)
from jobs.models.approvals import read_drawings
from jobs.models.quote_words import WORDS, QuoteWords
from jobs.snapshot.footing import AS_QUOTED

from .base import Actor, Refused, mark_out_of_date, record
from .estimates import give_estimates
from .gates import clear_gate, set_gate
from .graph import lock_job
from .jobs import decline_job, order_job, quote_job
from .mail_drafts import draft_for
from .materials import reckon_needs
from .quote_lines import frozen_lines
from .quoting import LineDraft, Offer, reckon_offer, terms_of

MOST = Decimal(10) ** 9
# In what is frozen: by the id of each panel the hash of its drawing, empty where it was not drawn.
DRAWINGS = "drawings"
LONGEST = timedelta(days=366 * 2)


@dataclass(frozen=True, slots=True)
class LineChange:
    """What was typed for a line of a draft; without an amount it is taken out."""

    words: str
    amount: Decimal | None


def _today(at: datetime) -> date:
    return at.astimezone(Studio.current().zone).date()


def _check_office(by: Actor) -> None:
    if by.account is None or not by.is_office:
        raise Refused("Only the office makes quotes.")


def _locked(quote: Quote, by: Actor) -> Quote:
    _check_office(by)
    job = lock_job(quote.job)
    row = Quote.objects.select_for_update(of=("self",)).filter(pk=quote.pk).first()
    if row is None:
        raise Refused("That version is not there any more.")
    row.job = job
    return row


def _draft(quote: Quote, by: Actor) -> Quote:
    row = _locked(quote, by)
    if row.state != QuoteState.DRAFT:
        raise Refused(f"Version {row.version} is {row.get_state_display()}; make a new version to change it.")
    return row


@transaction.atomic
def make_quote(job: Job, *, by: Actor, at: datetime) -> Quote:
    """The next version, a draft, from the takeoffs, rates, prices and settings that hold now."""
    _check_office(by)
    job = lock_job(job)
    assert by.account is not None
    draft = job.quotes.filter(state=QuoteState.DRAFT).first()
    if draft is not None:
        raise Refused(f"Version {draft.version} is a draft still; change that one.")
    offer = reckon_offer(job, at=at)
    last = job.quotes.order_by("-version").first()
    quote = Quote.objects.create(
        job=job,
        version=(job.quotes.aggregate(last=Max("version"))["last"] or 0) + 1,
        made_at=at,
        made_by=by.account,
        confidence=Studio.current().confidence,
        terms=last.terms if last else QuoteSettings.current().terms,
    )
    _fill(quote, offer)
    record("made", quote, by=by, at=at, after={"version": quote.version, "total": quote.total})
    return quote


@transaction.atomic
def renew_quote(quote: Quote, *, by: Actor, at: datetime) -> Quote:
    """Reckon a draft anew from what holds now; what was changed by hand in its lines is lost."""
    quote = _draft(quote, by)
    before = quote.total
    _fill(quote, reckon_offer(quote.job, at=at))
    record("reckoned anew", quote, by=by, at=at, before={"total": before}, after={"total": quote.total})
    return quote


def _fill(quote: Quote, offer: Offer) -> None:
    quote.lines.all().delete()
    QuoteLine.objects.bulk_create(_row(quote, place, line) for place, line in enumerate(offer.lines))
    quote.frozen = {
        "estimates": offer.estimates,
        "made from": offer.made_from,
        "problems": list(offer.problems),
        "unpriced": list(offer.unpriced),
    }
    quote.valid_until = offer.valid_until
    _write_totals(quote, offer.totals)
    quote.save(update_fields=["frozen", "valid_until", *_SUMS])


def _row(quote: Quote, place: int, line: LineDraft) -> QuoteLine:
    return QuoteLine(
        quote=quote,
        place=place,
        panel=line.panel,
        group=line.group,
        kind=line.kind,
        words=line.words,
        quantity=line.quantity,
        unit=line.unit,
        price=line.price,
        amount=line.amount,
        minutes=line.minutes,
    )


_SUMS = ("net", "tax", "total", "deposit")


def _write_totals(quote: Quote, sums: pricing.Totals) -> None:
    """The sums, and a last line for what rounding makes of them."""
    quote.net, quote.tax, quote.total, quote.deposit = sums.net, sums.tax, sums.gross, sums.deposit
    quote.lines.filter(group=LineGroup.ROUNDING).delete()
    if sums.rounding:
        place = (quote.lines.aggregate(last=Max("place"))["last"] or 0) + 1
        line = LineDraft(LineGroup.ROUNDING, "Rounding", sums.rounding)
        _row(quote, place, line).save()


@transaction.atomic
def change_quote(
    quote: Quote,
    *,
    valid_until: date,
    terms: str,
    lines: Mapping[int, LineChange],
    extra: LineDraft | None = None,
    by: Actor,
    at: datetime,
) -> Quote:
    """Change a draft by hand: words and amounts of its lines by their ids, one more line, its terms and its end."""
    quote = _draft(quote, by)
    _check_valid_until(valid_until, at)
    before = quote.total
    for row in quote.lines.exclude(group=LineGroup.ROUNDING):
        if row.pk in lines:
            _change_line(row, lines[row.pk])
    if extra is not None:
        _check_line(extra.words, extra.amount)
        place = (quote.lines.aggregate(last=Max("place"))["last"] or 0) + 1
        _row(quote, place, extra).save()
    amounts = list(quote.lines.exclude(group=LineGroup.ROUNDING).values_list("amount", flat=True))
    if not amounts:
        raise Refused("A quote has at least one line.")
    if sum(amounts) < 0:
        raise Refused("A quote cannot come to less than nothing.")
    quote.valid_until, quote.terms = valid_until, terms.strip()
    _write_totals(quote, pricing.totals(amounts, terms_of(QuoteSettings.current())))
    quote.save(update_fields=["valid_until", "terms", *_SUMS])
    after = {"total": quote.total, "valid until": valid_until}
    record("changed", quote, by=by, at=at, before={"total": before}, after=after)
    return quote


def _change_line(row: QuoteLine, change: LineChange) -> None:
    if change.amount is None:
        row.delete()
        return
    _check_line(change.words, change.amount)
    if change.amount != row.amount:
        # A price by hand is one for the whole: quantity and hours stand for how it was reckoned.
        row.amount = change.amount
        row.price = pricing.cents(change.amount / row.quantity) if row.quantity else change.amount
    row.words = change.words.strip()
    row.save(update_fields=["words", "amount", "price"])


def _check_line(words: str, amount: Decimal) -> None:
    if not words.strip() or len(words.strip()) > 160:
        raise Refused("Say what a line is for, in at most 160 letters.")
    if not (amount.is_finite() and abs(amount) < MOST):
        raise Refused("That is no amount of money.")


def _check_valid_until(day: date, at: datetime) -> None:
    today = _today(at)
    if not today <= day <= today + LONGEST:
        raise Refused("A quote is valid until today or a day of the next two years.", "valid_until")


@transaction.atomic
def drop_draft(quote: Quote, *, by: Actor, at: datetime) -> None:
    """A draft that nobody needs is thrown away; what was sent stays."""
    quote = _draft(quote, by)
    record("lost the draft of a quote", quote.job, by=by, at=at, before={"version": quote.version})
    quote.delete()


@transaction.atomic
def send_quote(quote: Quote, *, without_prices: bool = False, by: Actor, at: datetime) -> Quote:
    """Freeze a draft: it reads the same ever after. Refuses one with prices missing, unless it goes without them."""
    quote = _draft(quote, by)
    frozen = dict(quote.frozen or {})
    if frozen.get("unpriced") and not without_prices:
        raise Refused(" ".join(frozen["unpriced"]), "without_prices")
    if quote.valid_until is None or quote.valid_until < _today(at):
        raise Refused("Its last day is over; say until when it is valid.")
    if quote.if_approved_by is not None and quote.if_approved_by < _today(at):
        raise Refused("The day of approval that its date rests on is over; work the date out anew.")
    frozen["lines"], frozen[WORDS] = frozen_lines(quote), QuoteWords.now().as_json()
    frozen[DRAWINGS] = {str(row.panel.pk): row.digest for row in read_drawings(quote.job).rows}
    quote.frozen = frozen
    quote.state, quote.sent_at, quote.sent_by = QuoteState.SENT, at, by.account
    quote.save(update_fields=["frozen", "state", "sent_at", "sent_by"])
    record("sent", quote, by=by, at=at, after={"version": quote.version, "total": quote.total})
    quote_job(quote.job, by=by, at=at)
    draft_for(MailKind.QUOTE, quote.job, f"quote:{quote.pk}", at=at)
    return quote


def _open(quote: Quote, by: Actor) -> Quote:
    row = _locked(quote, by)
    if row.state == QuoteState.DRAFT:
        raise Refused(f"Version {row.version} has not been sent yet.")
    if row.state != QuoteState.SENT:
        raise Refused(f"Version {row.version} is {row.get_state_display()} already.")
    return row


def _answer(quote: Quote, state: str, answer: str, by: Actor, at: datetime) -> None:
    answer = answer.strip()
    if len(answer) > 200:
        raise Refused("Say what the customer said in at most 200 letters.", "answer")
    quote.state, quote.answered_at, quote.answered_by, quote.answer = state, at, by.account, answer
    quote.save(update_fields=["state", "answered_at", "answered_by", "answer"])
    told = {"version": quote.version, "total": quote.total}
    record(str(QuoteState(state).label), quote, by=by, at=at, after=told, why=answer)


@transaction.atomic
def accept_quote(
    quote: Quote,
    *,
    answer: str = "",
    approved: bool = False,
    paid: bool = False,
    by: Actor,
    at: datetime,
) -> Quote:
    """The customer takes it: the job is ordered, its work gets the hours that were quoted, it waits for the drawing's
    approval, the deposit and the glass, and what has to be bought is on the list.

    `approved`, `paid`: the drawing is approved and the deposit is in already. What the customer approved on their page,
    exactly as it is now, is not asked for again. Refuses a version that is over, or that
    a later one has taken the place of.
    """
    quote = _open(quote, by)
    _check_latest(quote, at)
    job = quote.job
    _answer(quote, QuoteState.ACCEPTED, answer, by, at)
    if job.stage in (Stage.ENQUIRY, Stage.QUOTED):
        job = order_job(job, by=by, at=at)
    _give_hours(quote, by=by, at=at)
    reckon_needs(job, by=by, at=at)
    approved = approved or read_drawings(job).all_approved
    _set_gates(quote, job, {GateKind.DRAWING: approved, GateKind.DEPOSIT: paid}, by=by, at=at)
    mark_out_of_date()
    return quote


def _check_latest(quote: Quote, at: datetime) -> None:
    if quote.valid_until is not None and quote.valid_until < _today(at):
        raise Refused("It is over; make and send a new version.")
    other = quote.job.quotes.filter(state=QuoteState.ACCEPTED).first()
    if other is not None:
        raise Refused(f"Version {other.version} was accepted already.")
    later = quote.job.quotes.filter(state=QuoteState.SENT, version__gt=quote.version).last()
    if later is not None:
        raise Refused(f"Version {later.version} was sent since; accept that one.")


def _give_hours(quote: Quote, *, by: Actor, at: datetime) -> None:
    """The minutes quoted, whatever the rates are by now."""
    why = f"{AS_QUOTED}{quote.version}"
    estimates: Mapping[str, Mapping[str, int]] = (quote.frozen or {}).get("estimates", {})
    rows = quote.job.operations.filter(breakage=None)
    for panel in quote.job.panels.all():
        minutes = estimates.get(str(panel.pk), {})
        give_estimates(rows.filter(panel=panel), minutes, by=by, at=at, why=why)
    give_estimates(rows.filter(panel=None), estimates.get("job", {}), by=by, at=at, why=why)


def _set_gates(quote: Quote, job: Job, came: Mapping[GateKind, bool], *, by: Actor, at: datetime) -> None:
    """Let the job wait for what its work needs; a gate that is cleared already stays so."""
    rows = job.operations.filter(skipped=False).select_related("kind")
    needed = {gate for row in rows for gate in row.kind.gates}
    there = {gate.kind: gate for gate in job.gates.all()}
    days: dict[GateKind, date | None] = dict.fromkeys(came, quote.if_approved_by)
    glass = list(job.needs.open().filter(gate=GateKind.GLASS).select_related("supplier"))
    if glass:
        first = quote.if_approved_by or _today(at)
        days[GateKind.GLASS] = first + timedelta(
            days=_longest([n.supplier.days for n in glass if n.supplier])
        )
    for kind in GateKind:
        gate = there.get(kind)
        if kind not in days or (kind not in needed and gate is None) or (gate and gate.cleared):
            continue
        expected = days[kind] or (gate.expected if gate else None)
        set_gate(job, kind, expected, by=by, at=at)
        if came.get(kind):
            clear_gate(job, kind, by=by, at=at)


def _longest(days: Sequence[int]) -> int:
    return max(days, default=0)


@transaction.atomic
def decline_quote(
    quote: Quote, *, answer: str = "", closes_job: bool = False, by: Actor, at: datetime
) -> Quote:
    """The customer does not take it; it stays for the record. With `closes_job` they do not want the job at all."""
    quote = _open(quote, by)
    _answer(quote, QuoteState.DECLINED, answer, by, at)
    if closes_job:
        decline_job(quote.job, why=answer.strip(), by=by, at=at)
    return quote
