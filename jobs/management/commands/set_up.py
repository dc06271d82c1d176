"""Make a studio that can start: its name and time zone, the lead's account, and the usual stations if wished."""

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

import environ
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.actions import Refused, accounts, studios
from jobs.actions.base import SYSTEM
from jobs.models import Account, Role, Station, Studio

env = environ.Env()


class Command(BaseCommand):
    help = (
        "Set up a studio for real. Asks on a terminal; otherwise reads STUDIO_NAME, STUDIO_TIME_ZONE, LEAD_NAME "
        "and LEAD_PASSWORD. What is there already is left alone."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--trade", action="store_true", help="load the usual stations, kinds and routes")
        parser.add_argument("--no-input", action="store_true", help="ask nothing, read the environment")

    def handle(self, **options: Any) -> None:
        self.asks = not options["no_input"] and sys.stdin.isatty()
        try:
            self._studio()
            self._lead()
        except Refused as refused:
            raise CommandError(refused.sentence) from refused
        self._trade(options["trade"])

    def _ask(self, question: str, variable: str, default: str = "") -> str:
        value = str(env(variable, default=""))
        if not value and self.asks:
            value = input(f"{question}{f' [{default}]' if default else ''}: ").strip()
        return value or default

    def _studio(self) -> None:
        studio = Studio.current()
        values = {
            "name": self._ask("Name of the studio", "STUDIO_NAME", studio.name),
            "time_zone": self._ask(
                "Its time zone, such as America/Chicago", "STUDIO_TIME_ZONE", studio.time_zone
            ),
        }
        studio = studios.change_studio(values, by=SYSTEM, at=timezone.now())
        self.stdout.write(f"{studio.name}, on the clock of {studio.time_zone}.")

    def _lead(self) -> None:
        if Account.objects.filter(role=Role.LEAD, is_active=True).exists():
            self.stdout.write("There is an account of a lead already.")
            return
        name = self._ask("Name that the lead signs in with", "LEAD_NAME", "lead")
        password = str(env("LEAD_PASSWORD", default=""))
        if not password and self.asks:
            password = getpass.getpass("Password (at least 12 characters): ")
            if getpass.getpass("Once more: ") != password:
                raise CommandError("The two passwords do not agree.")
        if not password:
            raise CommandError("Give the lead's password in LEAD_PASSWORD, or run this on a terminal.")
        values = {"username": name, "role": Role.LEAD}
        accounts.make_account(values, password, by=SYSTEM, at=timezone.now())
        self.stdout.write(f"{name} can sign in as the lead.")

    def _trade(self, wanted: bool) -> None:
        if Station.objects.exists():
            if wanted:
                self.stdout.write("There are stations already: the usual ones are not loaded.")
            return
        if not wanted and self.asks:
            answer = input("Load the usual stations, kinds of work and routes? [Y/n]: ")
            wanted = answer.strip().lower() in ("", "y", "yes")
        if wanted:
            call_command("loaddata", "trade", verbosity=0)
            self.stdout.write(f"{Station.objects.count()} stations with their kinds and routes are loaded.")
        self.stdout.write("Next, under Set-up: people with their hours and skills, and the closed days.")
