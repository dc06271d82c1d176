"""`manage.py backtest`: would the dates have held? Week by week through the studio's own history."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.actions import Refused
from jobs.actions.base import SYSTEM
from jobs.actions.look_back import ENOUGH, look_back


class Command(BaseCommand):
    help = "Plan each past week with only what was known then, and compare with what became of it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--weeks", type=int, default=52, metavar="N", help="how far back (default 52)")
        parser.add_argument("--futures", type=int, default=200, metavar="N", help="runs a week (default 200)")
        parser.add_argument("--seed", type=int, default=1, metavar="N")
        parser.add_argument("--json", action="store_true", help="print one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 1 <= options["futures"] <= 100_000:
            raise CommandError("--futures is a whole number from 1 to 100000.")
        try:
            found = look_back(
                by=SYSTEM,
                at=timezone.now(),
                weeks=options["weeks"],
                futures=options["futures"],
                seed=options["seed"],
            )
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(json.dumps(found, indent=1) if options["json"] else as_text(found))


def as_text(found: dict[str, Any]) -> str:
    lines = [f"{found['forecasts']} forecasts of {found['jobs']} jobs in {found['weeks']} weeks."]
    if not found["enough"]:
        lines.append(
            f"That is too little to judge by: {ENOUGH} jobs are wanted, of which the dates have passed."
        )
        return "\n".join(lines)
    head = f"{'horizon':<22}{'jobs':>6}  {'50 % held':<18}{'80 % held':<18}{'95 % held':<18}"
    lines.append(head + "loss in days: plan, hours, lead times")
    for row in found["rows"]:
        held = "".join(
            f"{each['share'] * 100:3.0f} % ({each['low'] * 100:2.0f}-{each['high'] * 100:3.0f}) ".ljust(18)
            for each in row["held"]
        )
        losses = ", ".join(
            "–" if row[way] is None else f"{row[way]:.2f}" for way in ("plan", "hours", "lead_times")
        )
        lines.append(f"{row['words']:<22}{row['jobs']:>6}  {held}{losses}")
    return "\n".join(lines)
