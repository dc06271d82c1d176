"""The paper of a quote is kept as it was sent: once, whole, and nothing is shown in its place."""

from pathlib import Path

import pytest

from jobs.actions import Actor, Refused
from jobs.actions.quotes import make_quote, send_quote
from jobs.actions.sent_quotes import keep_quote, kept_quote
from jobs.models import Account, Event, Quote, SentQuote
from tests import cast, quoting

PAPER = b"%PDF-1.7 a paper"


@pytest.fixture
def draft(office: Account) -> Quote:
    quoting.make_stock()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    return make_quote(job, by=Actor(account=office), at=cast.at(2))


@pytest.fixture
def sent(draft: Quote, office: Account) -> Quote:
    return send_quote(draft, by=Actor(account=office), at=cast.at(3))


def test_it_is_kept_byte_for_byte(sent: Quote, office: Account) -> None:
    kept = keep_quote(sent, PAPER, by=Actor(account=office), at=cast.at(3))
    assert kept_quote(sent) == PAPER
    assert (kept.made_by, kept.made_at) == (office, cast.at(3))
    # Nobody else on the machine reads it.
    assert Path(kept.file.path).stat().st_mode & 0o777 == 0o600
    assert Event.objects.get(verb="paper kept").after["sha256"] == kept.sha256


def test_nothing_is_kept_yet(sent: Quote) -> None:
    assert kept_quote(sent) is None


def test_a_draft_is_not_kept(draft: Quote, office: Account) -> None:
    with pytest.raises(Refused, match="has not been sent yet"):
        keep_quote(draft, PAPER, by=Actor(account=office), at=cast.at(3))


def test_a_second_one_is_refused(sent: Quote, office: Account) -> None:
    keep_quote(sent, PAPER, by=Actor(account=office), at=cast.at(3))
    with pytest.raises(Refused, match="kept already"):
        keep_quote(sent, PAPER + b" and more", by=Actor(account=office), at=cast.at(3))
    assert kept_quote(sent) == PAPER


def test_what_is_no_paper(sent: Quote, office: Account) -> None:
    with pytest.raises(Refused, match="no PDF"):
        keep_quote(sent, b"<html>", by=Actor(account=office), at=cast.at(3))


def test_only_the_office(sent: Quote, tablet: Account) -> None:
    with pytest.raises(Refused, match="Only the office"):
        keep_quote(sent, PAPER, by=Actor(account=tablet), at=cast.at(3))


@pytest.mark.parametrize("harm", ["changed", "lost"])
def test_a_paper_that_is_not_what_was_sent_is_not_shown(sent: Quote, office: Account, harm: str) -> None:
    path = Path(keep_quote(sent, PAPER, by=Actor(account=office), at=cast.at(3)).file.path)
    if harm == "changed":
        path.chmod(0o600)
        path.write_bytes(PAPER.replace(b"a paper", b"a forgery"))
    else:
        path.unlink()
    with pytest.raises(Refused, match="lost, or was changed"):
        kept_quote(sent)
    assert SentQuote.objects.get().content() is None
