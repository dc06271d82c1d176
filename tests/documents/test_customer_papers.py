"""What a customer may take from their own page: the quote as it was sent, the drawings, the care of what is done."""

import pytest

from jobs.actions import Actor
from jobs.actions.quotes import make_quote, send_quote
from jobs.actions.sent_quotes import keep_quote
from jobs.documents.customer_papers import customer_papers
from jobs.models import Account, Job, Stage
from tests import cast, quoting
from tests.documents.tags import text

PAPER = b"%PDF-1.7 a paper"


@pytest.fixture
def job(office: Account) -> Job:
    quoting.make_stock()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return job


def test_the_quote_as_it_was_sent_only_with_prices(job: Job, office: Account) -> None:
    by = Actor(account=office)
    sent = send_quote(make_quote(job, by=by, at=cast.at(2)), by=by, at=cast.at(2))
    assert customer_papers(job, prices=True) == []
    keep_quote(sent, PAPER, by=by, at=cast.at(2))
    [paper] = customer_papers(job, prices=True)
    assert (paper.slug, paper.make()) == ("quote-1", PAPER)
    assert customer_papers(job) == []


def test_care_once_it_is_complete(job: Job) -> None:
    job.stage, job.closed_at = Stage.COMPLETE, cast.at(6)
    job.save()
    [paper] = customer_papers(job)
    assert paper.slug == "care"
    assert "6 March 2026" in text(paper.make())
