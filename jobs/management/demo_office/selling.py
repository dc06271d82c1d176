"""What the office of the demo has written: takeoffs, patterns, quotes in each state, and what is to be bought."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal

from jobs import models
from jobs.actions import Actor, materials, quotes
from jobs.actions.base import record
from jobs.actions.quote_lines import frozen_lines
from jobs.actions.quoting import LineDraft
from jobs.management.demo import book
from jobs.management.demo.records import Commission, Sheet
from jobs.management.demo.rows import BATCH, Rows, moment
from jobs.models import LineGroup, QuoteState
from jobs.models.quote_words import WORDS, QuoteWords

from .measuring import Measuring, write_stock

TAKEN_OFF = 96  # Finished panels with a takeoff: enough to learn each rate by itself.
BOUGHT_FOR = 9  # Open jobs whose glass is still on its way.
LINES_CHANGED = "Hinge strips and a touched-up frame"


def write_selling(rows: Rows, office: models.Account) -> None:
    write_stock()
    write_rates(rows)
    measuring = Measuring()
    open_jobs = [job for job in rows.orders.jobs if job.closed is None]
    finished = [job for job in rows.orders.jobs if job.stage == "complete"]
    drawn = [sheet for job in open_jobs for sheet in job.sheets]
    taken = [sheet for job in reversed(finished) for sheet in job.sheets][:TAKEN_OFF]
    declined = [job for job in rows.orders.jobs if job.stage == "declined"][-3:]
    drawn += [sheet for job in declined for sheet in job.sheets]
    _write_patterns(drawn, measuring, office)
    _write_takeoffs(taken, measuring, office)
    models.QuoteSettings.objects.update_or_create(
        pk=1, defaults={"tax": Decimal("0.0625"), "terms": "Half with the order, the rest before it leaves."}
    )
    _Office(rows, office).write(open_jobs, declined)


def _write_patterns(sheets: list[Sheet], measuring: Measuring, office: models.Account) -> None:
    patterns = [measuring.row(sheet, moment(sheet.job.entered), office) for sheet in sheets]
    models.Pattern.objects.bulk_create(patterns, 50)
    of_panel = {row.panel_id: row for row in patterns}
    models.Takeoff.objects.bulk_create(
        (_takeoff(sheet, measuring, office, of_panel[sheet.id]) for sheet in sheets), BATCH
    )
    panels = [models.Panel(pk=sheet.id, drawing=measuring(sheet).picture) for sheet in sheets]
    models.Panel.objects.bulk_update(panels, ["drawing"], 50)


def _write_takeoffs(sheets: list[Sheet], measuring: Measuring, office: models.Account) -> None:
    models.Takeoff.objects.bulk_create((_takeoff(sheet, measuring, office) for sheet in sheets), BATCH)


def _takeoff(
    sheet: Sheet, measuring: Measuring, office: models.Account, pattern: models.Pattern | None = None
) -> models.Takeoff:
    source = models.Takeoff.Source.PATTERN if pattern else models.Takeoff.Source.HAND
    return models.Takeoff(
        panel_id=sheet.id,
        version=1,
        numbers=measuring(sheet).takeoff.to_json(),
        source=source,
        pattern=pattern,
        at=moment(sheet.job.entered),
        by=office,
    )


class _Office:
    def __init__(self, rows: Rows, office: models.Account) -> None:
        self.rows, self.by, self.account = rows, Actor(account=office), office

    def write(self, open_jobs: list[Commission], declined: list[Commission]) -> None:
        """Quotes first: what is bought follows from what was ordered."""
        asked = [job for job in open_jobs if job.stage == "quoted"]
        ordered = [job for job in open_jobs if job.stage not in ("quoted", "enquiry") and job.sheets]
        for job in declined:
            # Quotes are made for open jobs, as this one was then.
            row = models.Job.objects.filter(pk=job.id)
            kept = row.values("stage", "closed_at").get()
            row.update(stage=models.Stage.QUOTED, closed_at=None)
            self.answered(self.sent(job, 3), QuoteState.DECLINED, 20, "It is more than they can spend.")
            row.update(**kept)
        for number, job in enumerate(ordered[-4:]):
            quote = self.sent(job, 1)
            if number % 2:
                quote = self.again(job, 2)
            self.answered(quote, QuoteState.ACCEPTED, 3, "They like the drawing.")
        for number, job in enumerate(asked):
            self.sent(job, 1)
            if number == 1:
                self.again(job, 2)
            elif number == 2:
                self.draft(job, 3, changed=True)
        self.buy(ordered)

    def draft(self, job: Commission, days: int, *, changed: bool = False) -> models.Quote:
        at = min(moment(job.entered) + timedelta(days=days), moment(self.rows.now))
        row = models.Job.objects.get(pk=job.id)
        quote = quotes.make_quote(row, by=self.by, at=at)
        if changed and quote.valid_until:
            extra = LineDraft(LineGroup.MATERIAL, LINES_CHANGED, Decimal(185), price=Decimal(185))
            quote = quotes.change_quote(
                quote,
                valid_until=quote.valid_until,
                terms=quote.terms,
                lines={},
                extra=extra,
                by=self.by,
                at=at,
            )
        return quote

    def sent(self, job: Commission, days: int, *, changed: bool = False) -> models.Quote:
        """Written straight to its row: the job has gone on since, which sending would not allow."""
        quote = self.draft(job, days, changed=changed)
        at = quote.made_at + timedelta(hours=2)
        quote.frozen = (quote.frozen or {}) | {
            "lines": frozen_lines(quote),
            WORDS: QuoteWords.now().as_json(),
        }
        quote.state, quote.sent_at, quote.sent_by = QuoteState.SENT, at, self.account
        quote.save(update_fields=["frozen", "state", "sent_at", "sent_by"])
        told = {"version": quote.version, "total": quote.total}
        record("sent", quote, by=self.by, at=at, after=told)
        return quote

    def again(self, job: Commission, days: int) -> models.Quote:
        return self.sent(job, days, changed=True)

    def answered(self, quote: models.Quote, state: QuoteState, days: int, answer: str) -> None:
        assert quote.sent_at is not None
        at = min(quote.sent_at + timedelta(days=days), moment(self.rows.now))
        quote.state, quote.answered_at, quote.answered_by, quote.answer = state, at, self.account, answer
        quote.save(update_fields=["state", "answered_at", "answered_by", "answer"])
        told = {"version": quote.version, "total": quote.total}
        record(str(state.label), quote, by=self.by, at=at, after=told, why=answer)

    def buy(self, ordered: list[Commission]) -> None:
        """For the newest orders: some to order still, some on their way, one late, some there."""
        now = moment(self.rows.now)
        for number, job in enumerate(reversed(ordered[-BOUGHT_FOR:])):
            row = models.Job.objects.get(pk=job.id)
            materials.reckon_needs(row, by=self.by, at=now)
            self._went(number, row, now)

    def _went(self, number: int, job: models.Job, now: datetime) -> None:
        today = now.astimezone(self.rows.floor.zone).date()
        glass_in = job.gates.filter(kind="glass", cleared__isnull=False).exists()
        ago: Callable[[int], object] = lambda days: today - timedelta(days=days)  # noqa: E731
        for need in job.needs.filter(outside=None).select_related("supplier"):
            days = need.supplier.days if need.supplier else 7
            if need.glass_id and glass_in:
                need.ordered, need.expected, need.arrived = ago(days + 6), ago(6), ago(5)  # type: ignore[assignment]
            elif number % 4 == 1:
                need.ordered, need.expected = ago(2), ago(2 - days)  # type: ignore[assignment]
            elif number % 4 == 2:
                need.ordered, need.expected = ago(days + 3), ago(3)  # type: ignore[assignment]
            elif number % 4 == 3:
                need.ordered, need.expected, need.arrived = ago(days + 4), ago(4), ago(3)  # type: ignore[assignment]
            if need.arrived and need.glass_id and not glass_in:
                need.arrived = None
            need.save(update_fields=["ordered", "expected", "arrived"])


def write_rates(rows: Rows) -> None:
    """The rates that it worked by from before its first job, in place of those that come with the set-up."""
    first = rows.floor.day_of(min(job.entered for job in rows.orders.jobs)) - timedelta(days=400)
    kinds = {kind.slug: kind for kind in models.OperationKind.objects.filter(slug__in=book.SHARES)}
    models.Rate.objects.bulk_create(
        models.Rate(
            kind=kinds[slug],
            step=step,
            driver=driver,
            minutes=Decimal(str(minutes)),
            since=first,
            note="by the book of the old workshop",
        )
        for slug in book.SHARES
        for step, rates in book.rates(slug).steps.items()
        for driver, minutes in rates.items()
    )
