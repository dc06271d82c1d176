"""Quotes: made, changed, sent, accepted, declined. All sums are reckoned by hand from tests/quoting.py."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.materials import reckon_needs
from jobs.actions.purchases import change_need
from jobs.actions.quote_lines import changed_since, lines_of
from jobs.actions.quote_settings import change_quote_settings, set_labor_rates
from jobs.actions.quotes import (
    DRAWINGS,
    LineChange,
    accept_quote,
    change_quote,
    decline_quote,
    drop_draft,
    make_quote,
    renew_quote,
    send_quote,
)
from jobs.actions.quoting import LineDraft, breakage_share
from jobs.models import (
    Account,
    Breakage,
    DrawingApproval,
    Event,
    Gate,
    Job,
    KindSetup,
    LaborRate,
    LineGroup,
    OperationKind,
    Quote,
    QuoteSettings,
    Rate,
    Stage,
    Supplier,
    TimeEntry,
)
from jobs.models.approvals import shown_of
from jobs.snapshot.rates import read_spreads
from tests import cast, customers, quoting

MORNING = cast.at(2, "10:00")
TODAY = date(2026, 3, 2)


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def job(office: Account) -> Job:
    """Cutting takes 20 min and 1 a piece, assembly 60 min: the simplest rates there are, at 60 an hour."""
    quoting.make_stock()
    quoting.sixty_an_hour()
    QuoteSettings.objects.create(
        pk=1, markup=Decimal("0.5"), design_fee=Decimal("0.1"), risk_confidence=Decimal("0.5"), breakage=0
    )
    for kind in ("cutting", "assembly"):
        row = OperationKind.objects.get(slug=kind)
        KindSetup.objects.create(
            kind=row, minutes={"cutting": 20, "assembly": 60}[kind], since=date(2026, 1, 1)
        )
        for driver in ("piece", "came_m", "curved_edge", "inner_corner", "hard_piece"):
            minutes = 1 if (kind, driver) == ("cutting", "piece") else 0
            Rate.objects.create(kind=row, driver=driver, minutes=minutes, since=date(2026, 1, 1))
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job


@pytest.fixture
def sure(monkeypatch: pytest.MonkeyPatch) -> None:
    """Work takes what it takes, so that there is no allowance for risk to reckon with."""
    monkeypatch.setattr("jobs.actions.quoting.read_spreads", lambda at: {})


def words(quote: Quote) -> dict[str, Decimal]:
    return {line.words: line.amount for line in lines_of(quote)}


def sent(job: Job, by: Actor) -> Quote:
    return send_quote(make_quote(job, by=by, at=MORNING), by=by, at=MORNING)


def test_a_quote_by_hand(job: Job, by: Actor, sure: None) -> None:
    quote = make_quote(job, by=by, at=MORNING)
    assert words(quote) == {
        # 30 and 60 minutes at 60 an hour.
        "Cutting": Decimal("30.00"),
        "Assembly": Decimal("60.00"),
        # 0.72 m² at 100, three sticks at 12, 0.09 kg at 30; half on top.
        "Glass": Decimal("108.00"),
        "Came": Decimal("54.00"),
        "Solder, cement and the like": Decimal("4.05"),
        # A tenth of the labor.
        "Design fee": Decimal("9.00"),
        "Rounding": Decimal("-0.05"),
    }
    assert (quote.net, quote.tax, quote.total, quote.deposit) == (265, 0, 265, Decimal("132.50"))
    assert (quote.version, quote.state, quote.valid_until) == (1, "draft", date(2026, 4, 1))
    cutting = quote.lines.get(words="Cutting")
    assert (cutting.quantity, cutting.unit, cutting.price, cutting.minutes) == (Decimal("0.5"), "h", 60, 30)
    assert (cutting.panel, cutting.kind) == (job.panels.get(), OperationKind.objects.get(slug="cutting"))


def test_tax_and_an_hour_of_its_own(job: Job, by: Actor, sure: None) -> None:
    QuoteSettings.objects.update(tax=Decimal("0.2"), design_fee=0, markup=0)
    LaborRate.objects.create(kind=OperationKind.objects.get(slug="cutting"), hour=Decimal(90))
    quote = make_quote(job, by=by, at=MORNING)
    assert words(quote)["Cutting"] == 45
    # 45 + 60 + 72 + 36 + 2.70
    assert (quote.net, quote.tax, quote.total) == (216, Decimal("43.20"), Decimal("259.20"))


def test_work_of_the_whole_job_has_groups_of_its_own_and_a_crew_counts_twice(job: Job, by: Actor) -> None:
    delivery = OperationKind.objects.get(slug="delivery")
    job.operations.create(kind=delivery, estimate=150, place=9)
    quote = make_quote(job, by=by, at=MORNING)
    line = quote.lines.get(group=LineGroup.DELIVERY)
    # Two people for the 150 minutes that the default rate says.
    assert (line.amount, line.minutes, line.panel) == (300, 300, None)


def test_the_allowance_for_risk_is_read_off_the_record(job: Job, by: Actor) -> None:
    QuoteSettings.objects.update(risk_confidence=Decimal("0.8"))
    without = make_quote(job, by=by, at=MORNING)
    risk = words(without)["Allowance for risk"]
    # Both kinds have the same weak prior: the sum's 80 % lies above its middle, and below both at their own.
    known = read_spreads(MORNING)[OperationKind.objects.get(slug="cutting").pk]
    from scipy import stats

    alone = 90 * (2.718281828 ** stats.t.ppf(0.8, known.df, known.m, known.scale) - 1)
    assert 0 < float(risk) < alone


def test_breakage_is_that_of_the_record(job: Job, by: Actor, office: Account) -> None:
    """An hour of cutting was done again for a panel that had taken five in all: 0.25 of the four of the first time."""
    QuoteSettings.objects.update(breakage=None)
    assert breakage_share(QuoteSettings.current()) == 0
    done = cast.make_job("0300", stage=Stage.COMPLETE)
    row = cast.operation_of(cast.make_panel(done), "Cutting")
    broke = Breakage.objects.create(operation=row, pieces=1, at=cast.at(5, month=1))
    again = done.operations.create(
        panel=row.panel, kind=row.kind, estimate=60, breakage=broke, finished_at=cast.at(6, month=1)
    )
    row.finished_at = cast.at(6, month=1)
    row.save()
    for operation, minutes in ((row, 240), (again, 60)):
        TimeEntry.objects.create(
            person=cast.person("Mara"),
            operation=operation,
            started_at=cast.at(5, "08:00", month=1),
            stopped_at=cast.at(5, "12:00", month=1),
            minutes=minutes,
        )
    assert breakage_share(QuoteSettings.current()) == Decimal("0.25")
    quote = make_quote(job, by=by, at=MORNING)
    # A quarter of what can break: the cutting and the glass with its markup.
    assert words(quote)["Allowance for breakage"] == Decimal("34.50")


def test_a_panel_that_is_not_taken_off_is_quoted_by_its_route(job: Job, by: Actor) -> None:
    cast.make_panel(job, 2, ("Cutting", "Assembly"))
    quote = make_quote(job, by=by, at=MORNING)
    second = {line.words: line.amount for line in lines_of(quote) if line.panel == "2 Light 2"}
    # As its operations are estimated: 1:30 and 4:00.
    assert second == {"Cutting": 90, "Assembly": 240}
    assert quote.frozen is not None
    assert "Light 2 has not been taken off" in quote.frozen["problems"][0]


def test_outside_work_by_the_supplier(job: Job, by: Actor) -> None:
    panel = job.panels.get()
    lamination = OperationKind.objects.get(slug="lamination")
    job.operations.create(panel=panel, kind=lamination, estimate=14 * 24 * 60, place=9)
    quote = make_quote(job, by=by, at=MORNING)
    with pytest.raises(Refused, match="no price for Lamination of Light 1"):
        send_quote(quote, by=by, at=MORNING)
    reckon_needs(job, by=by, at=MORNING)
    need = job.needs.get(outside__isnull=False)
    supplier = Supplier.objects.first()
    change_need(need, amount=Decimal(1), price=Decimal(200), supplier=supplier, by=by, at=MORNING)
    quote = renew_quote(quote, by=by, at=MORNING)
    assert words(quote)["Lamination"] == 230
    assert send_quote(quote, by=by, at=MORNING).state == "sent"


def test_it_goes_without_a_price_where_somebody_says_so(job: Job, by: Actor) -> None:
    job.operations.create(
        panel=job.panels.get(), kind=OperationKind.objects.get(slug="lamination"), estimate=1440, place=9
    )
    quote = send_quote(make_quote(job, by=by, at=MORNING), without_prices=True, by=by, at=MORNING)
    assert quote.state == "sent"


def test_a_draft_is_changed_by_hand(job: Job, by: Actor, sure: None) -> None:
    quote = make_quote(job, by=by, at=MORNING)
    rows = {row.words: row.pk for row in quote.lines.all()}
    quote = change_quote(
        quote,
        valid_until=date(2026, 5, 1),
        terms="Half with the order.",
        lines={
            rows["Cutting"]: LineChange("Cutting the red", Decimal(100)),
            rows["Design fee"]: LineChange("Design fee", None),
        },
        extra=LineDraft(LineGroup.PACKING, "Crate", Decimal(80)),
        by=by,
        at=MORNING,
    )
    assert words(quote) == {
        "Cutting the red": 100,
        "Assembly": 60,
        "Glass": 108,
        "Came": 54,
        "Solder, cement and the like": Decimal("4.05"),
        "Crate": 80,
        "Rounding": Decimal("-0.05"),
    }
    assert (quote.total, quote.terms, quote.valid_until) == (406, "Half with the order.", date(2026, 5, 1))
    cut = quote.lines.get(words="Cutting the red")
    # The hours stay those that were reckoned; the price is that of the half hour.
    assert (cut.minutes, cut.price) == (30, 200)


def change(quote: Quote, by: Actor, **values: Any) -> Quote:
    right: dict[str, Any] = {"valid_until": date(2026, 5, 1), "terms": "", "lines": {}}
    return change_quote(quote, **right | values, by=by, at=MORNING)


def test_changes_that_are_refused(job: Job, by: Actor) -> None:
    quote = make_quote(job, by=by, at=MORNING)
    first = quote.lines.first()
    assert first is not None
    for values, sentence in (
        ({"valid_until": date(2026, 3, 1)}, "valid until today"),
        ({"lines": {first.pk: LineChange("", Decimal(1))}}, "what a line is for"),
        ({"lines": {first.pk: LineChange("Cutting", Decimal("NaN"))}}, "no amount of money"),
        ({"lines": {row.pk: LineChange("", None) for row in quote.lines.all()}}, "at least one line"),
        ({"extra": LineDraft(LineGroup.LABOR, "Gift", Decimal(-9999))}, "less than nothing"),
    ):
        with pytest.raises(Refused, match=sentence):
            change(quote, by, **values)
    assert words(quote)["Cutting"] == 30


def test_only_one_draft(job: Job, by: Actor) -> None:
    make_quote(job, by=by, at=MORNING)
    with pytest.raises(Refused, match="Version 1 is a draft still"):
        make_quote(job, by=by, at=MORNING)


def test_a_job_without_work_is_not_quoted(shop: None, by: Actor) -> None:
    with pytest.raises(Refused, match="no work on this job"):
        make_quote(cast.make_job("0500", stage=Stage.ENQUIRY), by=by, at=MORNING)


def test_only_the_office_makes_quotes(job: Job, tablet: Account) -> None:
    with pytest.raises(Refused, match="Only the office"):
        make_quote(job, by=Actor(account=tablet), at=MORNING)


def test_a_sent_quote_reads_the_same_ever_after(job: Job, by: Actor) -> None:
    quote = sent(job, by)
    job.refresh_from_db()
    assert (quote.state, quote.sent_at, job.stage) == ("sent", MORNING, Stage.QUOTED)
    before = lines_of(quote)
    quote.lines.update(amount=1)
    job.panels.update(name="Other")
    Rate.objects.update(minutes=99)
    assert lines_of(Quote.objects.get(pk=quote.pk)) == before
    assert quote.frozen is not None
    assert quote.frozen["made from"]["rates"]["cutting"]["set-up"] == 20
    for refused in (renew_quote, send_quote, drop_draft):
        with pytest.raises(Refused, match="Version 1 is sent"):
            refused(quote, by=by, at=MORNING)
    with pytest.raises(Refused, match="Version 1 is sent"):
        change(quote, by)


def test_what_a_later_version_changes(job: Job, by: Actor, sure: None) -> None:
    first = sent(job, by)
    LaborRate.objects.create(kind=OperationKind.objects.get(slug="cutting"), hour=Decimal(80))
    second = make_quote(job, by=by, at=MORNING)
    assert second.version == 2
    assert [(each.words, each.before, each.after) for each in changed_since(first, second)] == [
        ("Cutting", 30, 40),
        ("Design fee", 9, 10),
    ]


def test_a_quote_that_is_over_is_not_sent(job: Job, by: Actor) -> None:
    quote = make_quote(job, by=by, at=MORNING)
    with pytest.raises(Refused, match="last day is over"):
        send_quote(quote, by=by, at=cast.at(2, month=4))
    Quote.objects.update(if_approved_by=date(2026, 3, 5))
    with pytest.raises(Refused, match="work the date out anew"):
        send_quote(quote, by=by, at=cast.at(6))


def test_accepted_the_job_is_ordered_with_the_hours_quoted(job: Job, by: Actor) -> None:
    quote = sent(job, by)
    # What was quoted counts, whatever the rates are by now.
    Rate.objects.update(minutes=99)
    Quote.objects.update(if_approved_by=date(2026, 3, 9))
    accept_quote(quote, answer="Go ahead", by=by, at=cast.at(3))
    job.refresh_from_db()
    quote.refresh_from_db()
    assert (quote.state, quote.answered_at, quote.answer) == ("accepted", cast.at(3), "Go ahead")
    assert (job.stage, job.ordered_at) == (Stage.ORDERED, cast.at(3))
    assert {str(row): row.estimate for row in job.operations.all()} == {"Cutting": 30, "Assembly": 60}
    gates = {gate.kind: (gate.expected, gate.cleared) for gate in job.gates.all()}
    # Cutting waits for the drawing and the glass, which takes ten days; nothing of it waits for a deposit.
    assert gates == {"drawing": (date(2026, 3, 9), None), "glass": (date(2026, 3, 19), None)}
    assert job.needs.count() == 5
    assert Event.objects.filter(subject="quote", verb="accepted", why="Go ahead").count() == 1


def test_accepted_with_the_drawing_approved_and_the_deposit_in(job: Job, by: Actor) -> None:
    cast.make_gate(job, "deposit")
    accept_quote(sent(job, by), approved=True, paid=True, by=by, at=MORNING)
    cleared = {gate.kind: gate.cleared for gate in job.gates.all()}
    assert cleared == {"drawing": TODAY, "deposit": TODAY, "glass": None}


def test_work_that_has_begun_keeps_its_hours(job: Job, by: Actor) -> None:
    quote = sent(job, by)
    row = job.operations.get(kind__slug="cutting")
    row.started_at = MORNING
    row.save()
    Job.objects.update(stage=Stage.ORDERED)
    accept_quote(quote, by=by, at=cast.at(3))
    assert job.operations.get(kind__slug="cutting").estimate == 90
    assert job.operations.get(kind__slug="assembly").estimate == 60


def test_gates_that_are_cleared_stay_so(job: Job, by: Actor) -> None:
    cast.make_gate(job, "drawing", cleared=date(2026, 2, 2))
    accept_quote(sent(job, by), approved=True, by=by, at=MORNING)
    assert Gate.objects.get(kind="drawing").cleared == date(2026, 2, 2)


def test_what_the_customer_approved_on_their_page_is_not_asked_for_again(job: Job, by: Actor) -> None:
    quote = sent(job, by)
    panel = job.panels.get()
    panel.drawing = customers.DRAWING
    panel.save(update_fields=["drawing"])
    cast.make_gate(job, "drawing")
    cast.make_gate(job, "deposit")
    digest = customers.seen_of(job)[panel.number]
    DrawingApproval.objects.create(
        panel=panel, digest=digest, shown=shown_of(panel), name="Anna Berg", at=cast.at(4)
    )
    accept_quote(quote, by=by, at=cast.at(4, "09:00"))
    assert {gate.kind: gate.cleared for gate in job.gates.exclude(kind="glass")} == {
        "drawing": date(2026, 3, 4),
        "deposit": None,
    }


def test_the_drawings_are_frozen_with_what_is_sent(job: Job, by: Actor) -> None:
    panel = job.panels.get()
    panel.drawing = customers.DRAWING
    panel.save(update_fields=["drawing"])
    quote = sent(job, by)
    assert (quote.frozen or {})[DRAWINGS] == {str(panel.pk): customers.seen_of(job)[panel.number]}


def test_quotes_that_are_not_accepted(job: Job, by: Actor) -> None:
    draft = make_quote(job, by=by, at=MORNING)
    with pytest.raises(Refused, match="not been sent"):
        accept_quote(draft, by=by, at=MORNING)
    first = send_quote(draft, by=by, at=MORNING)
    with pytest.raises(Refused, match="It is over"):
        accept_quote(first, by=by, at=cast.at(2, month=4))
    second = sent(job, by)
    with pytest.raises(Refused, match="Version 2 was sent since"):
        accept_quote(first, by=by, at=MORNING)
    accept_quote(second, by=by, at=MORNING)
    with pytest.raises(Refused, match="accepted already"):
        accept_quote(second, by=by, at=MORNING)
    with pytest.raises(Refused, match="Version 2 was accepted already"):
        accept_quote(first, by=by, at=MORNING)
    assert list(Quote.objects.values_list("state", flat=True)) == ["sent", "accepted"]


def test_an_answer_that_is_too_long(job: Job, by: Actor) -> None:
    with pytest.raises(Refused) as refused:
        accept_quote(sent(job, by), answer="x" * 201, by=by, at=MORNING)
    assert refused.value.field == "answer"
    job.refresh_from_db()
    assert job.stage == Stage.QUOTED


def test_declined_it_stays_for_the_record(job: Job, by: Actor) -> None:
    quote = decline_quote(sent(job, by), answer="Too dear", by=by, at=cast.at(3))
    job.refresh_from_db()
    assert (quote.state, quote.answer, job.stage) == ("declined", "Too dear", Stage.QUOTED)
    with pytest.raises(Refused, match="declined already"):
        decline_quote(quote, by=by, at=MORNING)
    decline_quote(sent(job, by), closes_job=True, answer="Moved away", by=by, at=cast.at(4))
    job.refresh_from_db()
    assert (job.stage, job.closed_at) == (Stage.DECLINED, cast.at(4))
    assert Quote.objects.count() == 2


def test_an_ordered_job_is_not_declined(job: Job, by: Actor) -> None:
    quote = sent(job, by)
    Job.objects.update(stage=Stage.ORDERED)
    with pytest.raises(Refused, match="cannot be declined"):
        decline_quote(quote, closes_job=True, by=by, at=MORNING)
    quote.refresh_from_db()
    assert quote.state == "sent"


def test_a_draft_is_thrown_away(job: Job, by: Actor) -> None:
    quote = make_quote(job, by=by, at=MORNING)
    drop_draft(quote, by=by, at=MORNING)
    assert not Quote.objects.exists()
    with pytest.raises(Refused, match="not there any more"):
        renew_quote(Quote(pk=999, job=job), by=by, at=MORNING)


def test_how_quotes_are_made_is_the_leads(job: Job, lead: Account, by: Actor) -> None:
    boss = Actor(account=lead)
    row = change_quote_settings({"markup": Decimal("0.3"), "breakage": None}, by=boss, at=MORNING)
    assert (row.markup, row.breakage) == (Decimal("0.3"), None)
    with pytest.raises(Refused, match="Only the lead"):
        change_quote_settings({"markup": Decimal("0.4")}, by=by, at=MORNING)
    with pytest.raises(Refused) as refused:
        change_quote_settings({"risk_confidence": Decimal("0.3")}, by=boss, at=MORNING)
    assert refused.value.field == "risk_confidence"
    assert QuoteSettings.current().markup == Decimal("0.3")


def test_what_an_hour_is_sold_for(job: Job, lead: Account, by: Actor) -> None:
    boss, cutting = Actor(account=lead), OperationKind.objects.get(slug="cutting")
    assert set_labor_rates({cutting: Decimal(95)}, by=boss, at=MORNING) == 1
    assert LaborRate.objects.get().hour == 95
    assert set_labor_rates({cutting: Decimal(95)}, by=boss, at=MORNING) == 0
    assert set_labor_rates({cutting: None}, by=boss, at=MORNING) == 1
    assert not LaborRate.objects.exists()
    with pytest.raises(Refused, match="less than nothing"):
        set_labor_rates({cutting: Decimal(-1)}, by=boss, at=MORNING)
    with pytest.raises(Refused, match="Nobody works at Cure"):
        set_labor_rates({OperationKind.objects.get(slug="cure"): Decimal(1)}, by=boss, at=MORNING)
    with pytest.raises(Refused, match="Only the lead"):
        set_labor_rates({cutting: Decimal(1)}, by=by, at=MORNING)
