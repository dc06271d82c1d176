"""`manage.py demo_accounts`: how to sign in to the demo studio, and what to look at first."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from jobs.management.demo.load import PASSWORD
from jobs.management.demo.names import STORIES
from jobs.models import Account, CustomerLink, Job, Role, Studio

FIRST_LOOKS = (
    ("Floor", "", "what lies on each bench, and what needs a decision today"),
    ("Dates", "dates/", "whom must I call: promises at risk come first"),
    ("Panels", "panels/?waits=beveling", "what waits on beveling, and for what"),
    ("Bench", "bench/beveling/", "on a tablet, or a narrow window: tap a name, then Start"),
)


class Command(BaseCommand):
    help = "Print the address and one account for each role of the demo studio (only with DEMO=on)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--address", default="http://127.0.0.1:8000/")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("These accounts are only told with DEMO=on: a real studio makes its own.")
        address = options["address"].rstrip("/") + "/"
        accounts = _accounts()
        if not accounts:
            raise CommandError("The demo studio is not loaded: run manage.py load_demo first.")
        lines = ["", f"  {Studio.current().name} is open at  {address}", ""]
        lines.append(f"  {'who':<34}{'user name':<18}password")
        lines += [f"  {who:<34}{name:<18}{PASSWORD}" for who, name in accounts]
        lines += ["", "  What to look at first, as the lead:"]
        lines += [f"  {name:<8} {address}{path:<24} {why}" for name, path, why in FIRST_LOOKS]
        lines += [
            "",
            *(f"  {line}" for line in _stories(address)),
            *(f"  {line}" for line in _customers_page(address)),
            "",
            "  Ctrl-C ends it; what you entered is kept.",
            "",
        ]
        self.stdout.write("\n".join(lines))


def _accounts() -> list[tuple[str, str]]:
    """One account of each role, with who it is."""
    found = []
    for role, what in ((Role.LEAD, "the lead"), (Role.OFFICE, "the office"), (Role.BENCH, "a bench tablet")):
        accounts = Account.objects.filter(role=role, is_active=True).order_by("pk")
        account = accounts.filter(station__slug="beveling").first() or accounts.first()
        if account is not None:
            found.append((f"{account.get_full_name()}, {what}", account.username))
    return found


def _stories(address: str) -> list[str]:
    """The jobs that the demo is told by, as far as they are still open."""
    numbers = dict(Job.objects.open().order_by("number").values_list("title", "number"))
    told = [
        f"  {address}jobs/{numbers[title]}/  {title} {what}"
        for title, what in STORIES.values()
        if title in numbers
    ]
    return [f"{Job.objects.open().count()} commissions are open, among them:", *told]


def _customers_page(address: str) -> list[str]:
    """A page that its customer has read, of a job that waits for them."""
    links = CustomerLink.objects.filter(revoked_at=None, times_read__gt=0, job__gates__kind="drawing")
    link = links.filter(job__gates__cleared=None).select_related("job").order_by("pk").first()
    if link is None or not link.token:
        return []
    return ["", f"What the customer of {link.job.number} sees:  {address}c/{link.token}/"]
