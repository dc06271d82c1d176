from datetime import time
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from .stations import Station
from .workshops import FIRST


class Person(models.Model):
    """Somebody who works at the benches."""

    name = models.CharField(max_length=60, unique=True)
    active = models.BooleanField(default=True)
    hourly_cost = models.DecimalField(max_digits=7, decimal_places=2, default=Decimal("0"))
    pin = models.CharField(max_length=128, blank=True, editable=False)  # Hashed; empty: none is asked.
    workshop = models.ForeignKey("Workshop", on_delete=models.PROTECT, default=FIRST, related_name="people")
    stations: "models.ManyToManyField[Station, Skill]" = models.ManyToManyField(
        "Station", through="Skill", related_name="people"
    )

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "people"
        constraints = [models.CheckConstraint(condition=Q(hourly_cost__gte=0), name="person_hourly_cost")]

    def __str__(self) -> str:
        return self.name

    @property
    def initials(self) -> str:
        words = self.name.split()
        return "".join(word[0] for word in (words[:1] + words[1:][-1:])).upper()


class Skill(models.Model):
    """A person can work at a station, at a pace: at 1.25 an hour of estimate takes 48 minutes."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="skills")
    station = models.ForeignKey("Station", on_delete=models.CASCADE, related_name="skills")
    pace = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal("1.00"))

    class Meta:
        ordering = ["station__place", "-pace"]
        constraints = [
            models.UniqueConstraint(fields=["person", "station"], name="one_skill_per_person_and_station"),
            models.CheckConstraint(condition=Q(pace__gte=Decimal("0.1"), pace__lte=10), name="skill_pace"),
        ]

    def __str__(self) -> str:
        return f"{self.person} at {self.station}"


def _whole_minutes(*times: time | None) -> None:
    """The planner counts minutes; it could not plan with a part of one."""
    if any(at is not None and (at.second or at.microsecond) for at in times):
        raise ValidationError("Hours are whole minutes, without seconds.")


class Shift(models.Model):
    """Working hours on one weekday, every week. Two rows of a day have the break between them."""

    class Weekday(models.IntegerChoices):
        MONDAY = 0, "Monday"
        TUESDAY = 1, "Tuesday"
        WEDNESDAY = 2, "Wednesday"
        THURSDAY = 3, "Thursday"
        FRIDAY = 4, "Friday"
        SATURDAY = 5, "Saturday"
        SUNDAY = 6, "Sunday"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="shifts")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    start = models.TimeField()
    stop = models.TimeField()

    class Meta:
        ordering = ["weekday", "start"]
        constraints = [
            models.CheckConstraint(condition=Q(weekday__lte=6), name="shift_weekday"),
            models.CheckConstraint(condition=Q(stop__gt=F("start")), name="shift_stops_after_it_starts"),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.start:%H:%M}-{self.stop:%H:%M}"

    def clean(self) -> None:
        _whole_minutes(self.start, self.stop)


class ExtraHours(models.Model):
    """Hours of a person on one day beside the weekly ones, such as a Saturday."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="extra_hours")
    day = models.DateField()
    start = models.TimeField()
    stop = models.TimeField()

    class Meta:
        ordering = ["day", "start"]
        verbose_name_plural = "extra hours"
        constraints = [
            models.CheckConstraint(condition=Q(stop__gt=F("start")), name="extra_hours_stop_after_start")
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.day} {self.start:%H:%M}-{self.stop:%H:%M}"

    def clean(self) -> None:
        _whole_minutes(self.start, self.stop)


class DayOff(models.Model):
    """Days a person is not there, the first and the last included."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="days_off")
    first = models.DateField()
    last = models.DateField()
    reason = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["first"]
        verbose_name_plural = "days off"
        constraints = [models.CheckConstraint(condition=Q(last__gte=F("first")), name="days_off_in_order")]

    def __str__(self) -> str:
        return f"{self.person} {self.first}-{self.last}"


class ClosedDay(models.Model):
    """A day the whole studio is closed."""

    day = models.DateField(unique=True)
    name = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day} {self.name}".strip()
