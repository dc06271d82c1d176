"""When customers are written to: one draft for each thing that happens, at the moment it is so, and none when it is not
so any more."""

from datetime import date, timedelta

import pytest
from django.core.management import call_command

from jobs.actions import Actor, bench, mail_drafts
from jobs.actions.gates import clear_gate, remove_gate, reopen_gate, set_gate
from jobs.actions.promises import give_promise
from jobs.actions.quotes import accept_quote, make_quote, send_quote
from jobs.actions.sent_quotes import keep_quote
from jobs.actions.slipping import report_doubtful
from jobs.documents.mail_papers import attachments
from jobs.models import (
    Account,
    Job,
    Mail,
    MailKind,
    MailState,
    Operation,
    OperationKind,
    PlanState,
    Projection,
    Promise,
    Studio,
)
from tests import cast, customers, quoting
from tests.cast import at
from tests.documents.tags import text

AT = at(2, "10:00")
DRAFT, DISCARDED = MailState.DRAFT, MailState.DISCARDED


@pytest.fixture
def emil(office: Account) -> Actor:
    return Actor(account=office)


@pytest.fixture
def nora(lead: Account) -> Actor:
    return Actor(account=lead)


def mails(kind: str) -> list[tuple[str, str]]:
    """Each mail of a kind, the oldest first: what it tells of without its key, and its state."""
    rows = Mail.objects.filter(kind=kind).order_by("pk")
    return [(row.happening.partition(":")[0], str(row.state)) for row in rows]


# A quote is sent


@pytest.fixture
def enquiry(office: Account) -> Job:
    quoting.make_stock()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job


def test_a_quote_that_is_sent_is_drafted_with_its_figures_and_its_paper(enquiry: Job, emil: Actor) -> None:
    draft = make_quote(enquiry, by=emil, at=AT)
    assert not Mail.objects.exists()
    quote = send_quote(draft, by=emil, at=AT)
    keep_quote(quote, b"%PDF-1.7 kept", by=emil, at=AT)
    (mail,) = Mail.objects.all()
    assert (mail.kind, mail.state, mail.to) == (MailKind.QUOTE, DRAFT, "office@two-rivers.example")
    assert f"{quote.total:,.2f} EUR" in mail.body
    assert "1 April 2026" in mail.body
    (paper,) = attachments(mail.kind, enquiry)
    assert paper.make() == b"%PDF-1.7 kept"


def test_another_version_takes_the_place_of_the_draft_before(enquiry: Job, emil: Actor) -> None:
    for _ in range(2):
        send_quote(make_quote(enquiry, by=emil, at=AT), by=emil, at=AT)
    assert mails(MailKind.QUOTE) == [("quote", DISCARDED), ("quote", DRAFT)]


def test_what_was_sent_already_is_left_alone(enquiry: Job, emil: Actor) -> None:
    send_quote(make_quote(enquiry, by=emil, at=AT), by=emil, at=AT)
    Mail.objects.update(state=MailState.SENT, sent_at=AT, message_id="<1@studio>")
    send_quote(make_quote(enquiry, by=emil, at=AT), by=emil, at=AT)
    assert mails(MailKind.QUOTE) == [("quote", MailState.SENT), ("quote", DRAFT)]


def test_an_order_with_the_drawing_approved_asks_for_nothing(enquiry: Job, emil: Actor) -> None:
    enquiry.panels.update(drawing=customers.DRAWING)
    quote = send_quote(make_quote(enquiry, by=emil, at=AT), by=emil, at=AT)
    accept_quote(quote, approved=True, by=emil, at=AT)
    assert [state for _, state in mails(MailKind.APPROVAL)] == [DISCARDED]


# A drawing is to be approved


def test_an_approval_is_asked_for_once_there_is_a_drawing_of_each_panel(shop: None, emil: Actor) -> None:
    job = cast.make_job()
    panels = [cast.make_panel(job, number) for number in (1, 2)]
    set_gate(job, "drawing", None, by=emil, at=AT)
    assert mails(MailKind.APPROVAL) == []
    type(panels[0]).objects.filter(pk=panels[0].pk).update(drawing=customers.DRAWING)
    assert mail_drafts.notice_done(at=AT) == []
    job.panels.update(drawing=customers.DRAWING)
    call_command("worker", "--once")
    assert mails(MailKind.APPROVAL) == [("gate", DRAFT)]
    set_gate(job, "drawing", date(2026, 3, 9), by=emil, at=AT)
    assert mail_drafts.notice_done(at=AT) == []


def test_what_is_approved_or_not_waited_for_is_not_asked_for(shop: None, emil: Actor) -> None:
    job = cast.make_job()
    cast.make_panel(job, drawing=customers.DRAWING)
    set_gate(job, "drawing", None, by=emil, at=AT)
    clear_gate(job, "drawing", by=emil, at=AT)
    assert mails(MailKind.APPROVAL) == [("gate", DISCARDED)]
    reopen_gate(job, "drawing", by=emil, at=AT)
    assert mails(MailKind.APPROVAL) == [("gate", DISCARDED), ("gate", DRAFT)]
    remove_gate(job, "drawing", by=emil, at=AT)
    assert mails(MailKind.APPROVAL) == [("gate", DISCARDED)] * 2


# A day at risk, and another day


@pytest.fixture
def promised(shop: None, emil: Actor) -> Job:
    PlanState.objects.update_or_create(pk=1, defaults={"futures": 20})
    job = cast.make_job()
    cast.make_panel(job)
    give_promise(job, date(2026, 3, 27), "Office", by=emil, at=AT)
    return job


def doubt(job: Job, when: date) -> None:
    days = [at(30, "12:00")] * 3
    values = {"p50": days[0], "p80": days[1], "p95": days[2], "chance": 0.2}
    Projection.objects.update_or_create(job=job, defaults=values)
    from jobs.actions.plan import read

    report_doubtful(read(AT).shop, Studio.current(), at=at(when.day, "10:00", when.month))


def test_a_day_at_risk_is_told_before_it_breaks_and_not_after(promised: Job) -> None:
    assert mails(MailKind.AT_RISK) == []  # The first promise is no news.
    doubt(promised, date(2026, 3, 28))
    assert mails(MailKind.AT_RISK) == []
    job = cast.make_job("0413")
    cast.make_panel(job)
    Promise.objects.create(
        job=job, day=date(2026, 3, 27), given_at=AT, given_by=Account.objects.get(), told="Vicar"
    )
    for _ in range(2):
        doubt(job, date(2026, 3, 27))
    (mail,) = Mail.objects.all()
    assert (mail.kind, mail.state) == (MailKind.AT_RISK, DRAFT)
    assert "for Friday 27 March 2026" in mail.body
    assert "ready by Monday 30 March 2026" in mail.body


def test_another_day_is_drafted_once_with_its_letter_and_takes_the_place_of_the_doubt(
    promised: Job, emil: Actor
) -> None:
    doubt(promised, date(2026, 3, 10))
    promise = give_promise(
        promised, date(2026, 3, 30), "Office", by=emil, at=AT + timedelta(1), reason="The glass is late"
    )
    assert mails(MailKind.AT_RISK) == [("promise", DISCARDED)]
    assert mails(MailKind.NEW_DATE) == [("promise", DRAFT)]
    mail = Mail.objects.get(kind=MailKind.NEW_DATE)
    (paper,) = attachments(mail.kind, promised)
    letter = text(paper.make())
    for words in ("Friday 27 March 2026", "Monday 30 March 2026", "The glass is late"):
        assert words in mail.body
    for words in ("27 March 2026", "30 March 2026", "The glass is late", "3 March 2026"):
        assert words in letter
    assert mail_drafts.draft_for(mail.kind, promised, f"promise:{promise.pk}", at=AT) is None


def test_a_reason_that_names_others_is_left_to_be_written(promised: Job, emil: Actor) -> None:
    give_promise(
        promised, date(2026, 3, 30), "Office", by=emil, at=AT + timedelta(1), reason="Ilse Roth is ill"
    )
    mail = Mail.objects.get(kind=MailKind.NEW_DATE)
    assert "[[reason]]" in mail.body
    assert "Ilse" not in mail.body
    assert attachments(mail.kind, promised) == []


# Ready, and installed


def test_the_last_panel_makes_it_ready_and_what_was_discarded_is_not_drafted_again(
    nora: Actor, emil: Actor
) -> None:
    job = cast.make_job()
    panels = [cast.make_panel(job, number, ("Assembly",)) for number in (1, 2)]
    jonas = cast.person("Jonas")
    bench.finish(cast.operation_of(panels[0], "Assembly"), jonas, by=nora, at=AT)
    assert not Mail.objects.exists()
    bench.finish(cast.operation_of(panels[1], "Assembly"), jonas, by=nora, at=AT)
    mail = Mail.objects.get(kind=MailKind.READY)
    mail_drafts.discard_draft(mail, by=emil, at=AT)
    assert mail_drafts.notice_done(at=AT) == []


def test_a_finish_by_mistake_is_taken_back_with_its_draft(nora: Actor) -> None:
    work = cast.operation_of(cast.make_panel(cast.make_job(), kinds=("Assembly",)), "Assembly")
    bench.finish(work, cast.person("Jonas"), by=nora, at=AT)
    bench.reopen(work, by=nora, at=AT)
    assert [state for _, state in mails(MailKind.READY)] == [DISCARDED]
    bench.finish(work, cast.person("Jonas"), by=nora, at=AT + timedelta(hours=1))
    assert [state for _, state in mails(MailKind.READY)] == [DISCARDED, DRAFT]


def test_what_was_sent_as_ready_is_not_said_again(nora: Actor) -> None:
    work = cast.operation_of(cast.make_panel(cast.make_job(), kinds=("Assembly",)), "Assembly")
    bench.finish(work, cast.person("Jonas"), by=nora, at=AT)
    Mail.objects.update(state=MailState.SENT, sent_at=AT, message_id="<1@studio>")
    bench.reopen(work, by=nora, at=AT)
    bench.finish(work, cast.person("Jonas"), by=nora, at=AT + timedelta(hours=1))
    assert [state for _, state in mails(MailKind.READY)] == [MailState.SENT]


def test_an_installation_that_is_done(nora: Actor) -> None:
    job = cast.make_job()
    kind = OperationKind.objects.get(slug="delivery")
    kind.slug, kind.crew = "installation", 1
    kind.save()
    row = Operation.objects.create(job=job, kind=kind, estimate=60)
    assert mail_drafts.notice_done(at=AT) == []
    bench.finish(row, cast.person("Jonas"), by=nora, at=AT)
    assert mails(MailKind.INSTALLED) == [("installed", DRAFT)]
    assert mail_drafts.notice_done(at=AT) == []
