"""Which rows the page of dates shows: those that were asked for, at-risk first, a page of them at a time."""

from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.http import QueryDict

from jobs.views.date_rows import DatesPage, Row

PAGE = 40
# What `?show=` may be, and what its link says.
SHOWN = {
    "": "All",
    "at-risk": "At risk",
    "not-promised": "Not promised",
    "on-course": "On course",
    "asked": "Asked about by the plan",
}


@dataclass(frozen=True, slots=True)
class Part:
    """Rows of one of the three groups that lie on this page, and how many the group has on all pages."""

    rows: list[Row]
    count: int


@dataclass(frozen=True, slots=True)
class Choice:
    show: str
    words: str
    count: int
    chosen: bool


@dataclass(frozen=True, slots=True)
class Listing:
    """A page of the rows. `says`: the sentence of the plan whose jobs alone are shown; `choices`: what else may be,
    none where all that is open fits on one page."""

    page: Page[Row]
    at_risk: Part
    unpromised: Part
    kept: Part
    choices: list[Choice]
    says: str

    @property
    def tells_of_risk(self) -> bool:
        """Whether this is the page that says whom to call, be it nobody."""
        return bool(self.at_risk.rows) or (self.page.number == 1 and bool(self.page) and not self.narrowed)

    @property
    def narrowed(self) -> bool:
        """Whether only a part of the open jobs was asked for."""
        return bool(self.says) or any(choice.chosen and choice.show for choice in self.choices)


def read_listing(page: DatesPage, asked: QueryDict) -> Listing:
    """What `?show=`, `?says=` and `?page=` ask of the rows that were read; what they cannot be asks for nothing."""
    every = [*page.at_risk, *page.unpromised, *page.kept]
    groups = {
        "": every,
        "at-risk": page.at_risk,
        "not-promised": page.unpromised,
        "on-course": page.kept,
        "asked": [row for row in every if row.assumes],
    }
    show = asked.get("show", "")
    show = show if show in groups else ""
    says = asked.get("says", "")
    wanted = [row for row in groups[show] if not says or says in row.assumes]
    shown = Paginator(wanted, PAGE).get_page(asked.get("page"))
    long = len(every) > PAGE or show or says
    choices = [Choice(key, words, len(groups[key]), key == show and not says) for key, words in SHOWN.items()]
    return Listing(
        page=shown,
        at_risk=_part(wanted, shown, page.at_risk),
        unpromised=_part(wanted, shown, page.unpromised),
        kept=_part(wanted, shown, page.kept),
        choices=choices if long else [],
        says=says,
    )


def _part(wanted: list[Row], shown: Page[Row], group: list[Row]) -> Part:
    own = {row.job.pk for row in group}
    return Part([row for row in shown if row.job.pk in own], sum(row.job.pk in own for row in wanted))
