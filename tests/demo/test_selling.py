"""What the demo's office has drawn, quoted and ordered: something in each state, so that every page shows something."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.db.models import Count, Sum

from jobs.actions.learning import read_lessons
from jobs.management.demo import staff
from jobs.management.demo.load import Wish, load
from jobs.models import (
    Breakage,
    BrokenPiece,
    CustomerLink,
    Job,
    Mail,
    MailKind,
    MailPaper,
    MailState,
    Need,
    Operation,
    Panel,
    Pattern,
    Photo,
    PieceMark,
    Quote,
    Stage,
    Takeoff,
)
from jobs.snapshot.pieces import levels, named_done, read_pieces

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 17, 10, 0, tzinfo=ZoneInfo(staff.ZONE))


def test_drawings_quotes_and_purchases() -> None:
    """One load, all checks: loading is what takes the time."""
    load(Wish(NOW, years=1, selling=True))
    check_drawings()
    check_quotes()
    check_purchases()
    check_lessons()
    check_mail()
    check_photos()
    check_marks()


def check_photos() -> None:
    assert Photo.objects.count() == 6
    assert Photo.objects.exclude(shared_at=None).count() == 3
    assert set(Photo.objects.values_list("width", "height")) == {(1200, 900)}


def check_marks() -> None:
    """Marked pieces are counted ones, at several panels, some with wheels to go; what broke has its number."""
    marked = Operation.objects.filter(marks__isnull=False).distinct()
    assert len({operation.panel_id for operation in marked}) >= 3
    for operation in marked:
        known = read_pieces(operation, NOW)
        assert known is not None
        level = levels(operation, known.pattern)
        assert not level.keys() & known.broken.keys()
        assert all(known.has(*key) for key in level)
        done = sum(count == len(known.steps) for count in level.values())
        assert done == named_done(operation) <= operation.quantity_done
    assert {"cutting", "beveling"} <= set(marked.values_list("kind__slug", flat=True))
    begun = PieceMark.objects.filter(operation__kind__slug="beveling").values("operation", "copy", "number")
    assert begun.annotate(steps=Count("pk")).values_list("steps", flat=True).distinct().count() > 1
    assert BrokenPiece.objects.exists()
    assert not PieceMark.objects.filter(at__gt=NOW).exists()


def check_drawings() -> None:
    panels = Panel.objects.filter(job__in=Job.objects.open())
    assert panels.exists()
    for panel in panels:
        assert panel.patterns.get().faults == []
        numbers = [piece["number"] for piece in panel.drawing["pieces"] if not piece.get("carved")]
        assert sorted(numbers) == list(range(1, panel.pieces + 1))
        check_beveled(panel)
    assert any(Takeoff.objects.values_list("numbers__carved_mm2", flat=True))
    assert not Pattern.objects.filter(accepted_at=None).exists()


def check_beveled(panel: Panel) -> None:
    """As many pieces go over the wheels as the pattern says are beveled, in all parts of that work together."""
    works = panel.operations.filter(kind__slug="beveling", breakage=None)
    pattern = panel.patterns.get()
    beveled = sum(pattern.fills[piece["fill"]]["beveled"] for piece in pattern.measured["pieces"])
    if beveled and works:
        broken = Breakage.objects.filter(operation__in=works).aggregate(pieces=Sum("pieces"))["pieces"] or 0
        counted = sum(work.quantity for work in works)
        assert counted <= beveled * panel.copies <= counted + broken


def check_quotes() -> None:
    states = set(Quote.objects.values_list("state", flat=True))
    assert states == {"draft", "sent", "accepted", "declined"}
    second = Quote.objects.filter(state="accepted", version=2)
    assert second.exists()
    for quote in Quote.objects.all():
        assert quote.net + quote.tax == quote.total > 0
        assert quote.made_at <= NOW
        assert (quote.frozen or {})["unpriced"] == []
        assert (quote.state == "declined") == (quote.job.stage == Stage.DECLINED)


def check_purchases() -> None:
    today = date(2026, 6, 17)
    needs = Need.objects.all()
    assert needs.filter(ordered=None, arrived=None).exists()
    assert needs.filter(arrived=None, expected__gte=today).exists()
    assert needs.filter(arrived=None, expected__lt=today).exists()
    assert needs.exclude(arrived=None).exists()
    # Glass that has come and a gate that waits for it would contradict each other.
    for need in needs.filter(glass__isnull=False).exclude(arrived=None):
        assert not need.job.gates.filter(kind="glass", cleared=None).exists()


def check_lessons() -> None:
    lessons = {lesson.kind.slug: lesson for lesson in read_lessons(NOW.date(), NOW)}
    cutting = lessons["cutting"]
    assert cutting.by_driver
    assert cutting.measured >= 60
    assert cutting.learned is not None
    # What it really takes goes by the same quantities, at rates a bit off from the book (book.py).
    assert 1 < cutting.learned.rates.rates["piece"] / cutting.present.rates["piece"] < 1.4
    for lesson in lessons.values():
        assert lesson.learned is not None
        odd = [
            (lesson.kind.slug, each)
            for each in lesson.learned.proposals
            if each.panels >= 40 and not 0.5 < each.learned / each.now < 1.7
        ]
        assert not odd


def check_mail() -> None:
    """Something in each state that an outbox can be found in, of each kind that is not drafted by the plan."""
    assert {*Mail.objects.values_list("state", flat=True)} == {*MailState} - {MailState.SENDING}
    kinds = {*Mail.objects.filter(state=MailState.SENT).values_list("kind", flat=True)}
    assert kinds >= {MailKind.QUOTE, MailKind.INSTALLED}
    assert not Mail.objects.filter(made_at__gt=NOW).exists()
    assert not Mail.objects.filter(sent_at__gt=NOW).exists()
    assert not Mail.objects.exclude(to__endswith=".example").exists()
    assert not Mail.objects.filter(state=MailState.SENT, body__contains="[[").exists()
    paper = MailPaper.objects.get()
    assert bytes(paper.content).startswith(b"%PDF-")
    assert paper.mail.state == MailState.SENT
    assert Job.objects.exclude(site_address="").exists()
    assert CustomerLink.objects.filter(times_read__gt=0).exists()
