"""Time entries with the small human things in them, and the written history of what is going on."""

from __future__ import annotations

from random import Random
from typing import Any

from jobs import models

from .names import TAPPED_NOTES
from .records import Commission, Stretch, Work
from .rows import BATCH, Rows, moment, when

RECENT = 30 * 1440
RECENT_WORK = 12 * 1440


def live_with(stretches: list[Stretch], rng: Random, now: int) -> None:
    """Some hours are typed in afterwards, some carry a note, and now and then one is corrected."""
    for stretch in stretches:
        if stretch.stop is None or now - stretch.stop < 1440:
            continue
        draw = rng.random()
        if draw < 0.05:
            stretch.source = "span"
        elif draw < 0.08:
            stretch.source = "hours"
        elif draw < 0.1:
            stretch.note = rng.choice(TAPPED_NOTES)
        elif draw < 0.106 and stretch.minutes:
            more = rng.choice((15, 30, 60))
            stretch.source = "span"
            stretch.typed_first = stretch.stop + more, stretch.minutes + more, "stopped the timer too late"


def write_entries(rows: Rows) -> None:
    """All entries in the order of their starts; a corrected one stays, taken back, before the one that corrects it."""
    entries: list[models.TimeEntry] = []
    for stretch in sorted(rows.floor.stretches, key=lambda s: (s.start, s.worker.name)):
        original = None
        if stretch.typed_first is not None and stretch.stop is not None:
            stop, minutes, reason = stretch.typed_first
            original = _entry(rows, stretch, len(entries) + 1)
            original.stopped_at, original.minutes, original.source = when(stop), minutes, "tapped"
            original.voided_at, original.void_reason = when(stop + 30), reason
            entries.append(original)
        entry = _entry(rows, stretch, len(entries) + 1)
        entry.corrects_id = original.pk if original else None
        entries.append(entry)
    models.TimeEntry.objects.bulk_create(entries, BATCH)


def _entry(rows: Rows, stretch: Stretch, number: int) -> models.TimeEntry:
    return models.TimeEntry(
        pk=number,
        person=rows.people[stretch.worker.name],
        operation_id=stretch.work.id,
        started_at=moment(stretch.start),
        stopped_at=when(stretch.stop),
        minutes=stretch.minutes,
        pieces_done=stretch.pieces,
        source=stretch.source,
        note=stretch.note,
    )


class Diary:
    """Events of the jobs that are open or were finished in the last month, as the actions would have written them."""

    def __init__(self, rows: Rows, lead: models.Account, office: models.Account) -> None:
        self.rows, self.lead, self.office = rows, lead, office
        self.events: list[models.Event] = []
        self.stretches = _by_work(rows.floor.stretches)

    def write(self) -> None:
        now = self.rows.now
        for job in self.rows.orders.jobs:
            if job.closed is None or now - job.closed < RECENT:
                self._job(job)
                for work in job.works:
                    self._work(work)
        for broken in self.rows.floor.broken:
            if now - broken.at < RECENT:
                again = [work.label for work in broken.work.job.works if work.of_breakage is broken]
                after = {"pieces": broken.pieces, "again": again}
                self._note(
                    broken.at, "broke", broken.work, person=broken.worker.name, after=after, why=broken.note
                )
        self.events.sort(key=lambda event: event.at)
        models.Event.objects.bulk_create(self.events, BATCH)

    def _job(self, job: Commission) -> None:
        at = self.rows.floor.at
        self._note(job.entered, "entered", job, account=self.office, after={"title": job.title})
        if job.ordered is not None:
            self._note(job.ordered, "ordered", job, account=self.office, after={"stage": "ordered"})
        before: dict[str, str] | None = None
        for given in job.promises:
            if given.at <= self.rows.now:
                after = {"day": given.day.isoformat()}
                self._note(
                    given.at, "promised", job, account=self.lead, before=before, after=after, why=given.reason
                )
                before = after
        for kind, gate in job.gates.items():
            if gate.cleared and gate.open_from <= self.rows.now:
                clock = at(gate.cleared) + 560
                self._note(
                    clock, f"cleared {kind}", job, account=self.office, after={"cleared": str(gate.cleared)}
                )
        for rest in job.holds:
            after = {"until": rest.until.isoformat() if rest.until else ""}
            self._note(rest.since, "held", job, account=self.office, after=after, why=rest.reason)

    def _work(self, work: Work) -> None:
        now = self.rows.now
        stretches = self.stretches.get(work.id, [])
        if not work.is_attended or not stretches:
            return
        if work.started is not None and 0 <= now - work.started < RECENT_WORK:
            self._note(work.started, "started", work, person=stretches[0].worker.name)
        if work.finished is not None and 0 <= now - work.finished < RECENT_WORK:
            after = {"pieces": work.quantity}
            self._note(work.finished, "finished", work, person=stretches[-1].worker.name, after=after)

    def _note(
        self,
        at: int,
        verb: str,
        subject: Commission | Work,
        *,
        account: models.Account | None = None,
        person: str | None = None,
        **values: Any,
    ) -> None:
        job, work = (subject.job, subject) if isinstance(subject, Work) else (subject, None)
        self.events.append(
            models.Event(
                at=moment(at),
                account=account,
                person=self.rows.people[person] if person else None,
                verb=verb,
                subject="operation" if work else "job",
                subject_id=subject.id,
                job_id=job.id,
                panel_id=work.panel.id if work and work.panel else None,
                before=values.get("before") or {},
                after=values.get("after") or {},
                why=values.get("why") or "",
            )
        )


def _by_work(stretches: list[Stretch]) -> dict[int, list[Stretch]]:
    """The entries of each operation, in order."""
    found: dict[int, list[Stretch]] = {}
    for stretch in sorted(stretches, key=lambda stretch: stretch.start):
        found.setdefault(stretch.work.id, []).append(stretch)
    return found
