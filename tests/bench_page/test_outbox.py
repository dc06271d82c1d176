"""What a tablet sends late: carried out at its time and once, refused with a sentence, and never lost."""

import json
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import OperationalError
from django.test import Client

from jobs.actions import Actor, Refused, late
from jobs.actions.bench import count_pieces, finish, pause, start
from jobs.actions.holds import hold
from jobs.forms.outbox import MOST_BYTES, MOST_ITEMS, BadBatch, Sent, Unreadable, read_batch
from jobs.models import Account, Event, LateTap, Operation, Panel, Tap, TimeEntry
from jobs.views import bench_taps
from tests import cast
from tests.bench_page.test_bench import Clock, come
from tests.bench_page.test_bench import clock as clock
from tests.cast import at

pytestmark = pytest.mark.usefixtures("shop")
BEVELING, OUTBOX = "/bench/beveling/", "/bench/-/outbox/"


@pytest.fixture
def panel(clock: Clock) -> Panel:
    clock.time = at(3, "10:00")
    return cast.make_panel(cast.make_job(), kinds=("Beveling",))


@pytest.fixture
def work(panel: Panel) -> Operation:
    return cast.operation_of(panel, "Beveling")


def mark(client: Client, name: str = "Mara") -> str:
    """The mark that the tablet was given when the person tapped their name."""
    come(client, name, BEVELING)
    html = client.get(BEVELING).content.decode()
    return html.split('data-who="')[1].split('"')[0]


def item(who: str, verb: str, row: Any, time: datetime, **fields: str) -> dict[str, Any]:
    return {
        "id": str(uuid4()),
        "verb": verb,
        "pk": row.pk,
        "at": int(time.timestamp() * 1000),
        "who": who,
        "fields": fields,
    }


def send(client: Client, *items: Any) -> list[dict[str, str]]:
    answer = client.post(OUTBOX, json.dumps({"items": items}), content_type="application/json")
    assert answer.status_code == 200
    return answer.json()["results"]


def states(results: list[dict[str, str]]) -> list[str]:
    return [result["state"] for result in results]


def only(results: list[dict[str, str]]) -> tuple[str, str]:
    [result] = results
    return result["state"], result["sentence"]


def test_taps_are_carried_out_in_their_order_at_their_times_and_once(
    tablet_client: Client, work: Operation
) -> None:
    who = mark(tablet_client)
    items = [
        item(who, "start", work, at(3, "08:00")),
        item(who, "pieces", work, at(3, "08:40"), add="5"),
        item(who, "pause", work, at(3, "09:00")),
        item(who, "start", work, at(3, "09:15")),
        item(who, "finish", work, at(3, "09:45")),
    ]
    for _ in range(2):
        assert states(send(tablet_client, *items)) == ["done"] * 5
    work.refresh_from_db()
    assert (work.finished_at, work.quantity_done) == (at(3, "09:45"), 10)
    entries = [(entry.started_at, entry.minutes, entry.pieces_done) for entry in work.entries.all()]
    assert entries == [(at(3, "08:00"), 60, 5), (at(3, "09:15"), 30, 5)]
    assert Tap.objects.count() == 5
    assert not LateTap.objects.exists()


def test_a_fresh_token_and_the_time_are_given(tablet_client: Client, clock: Clock) -> None:
    answer = tablet_client.get(OUTBOX)
    assert len(answer.json()["token"]) == 64
    assert int(answer["X-Studio-Time"]) == int(clock.time.timestamp() * 1000)
    assert tablet_client.put(OUTBOX).status_code == 405


def test_a_post_without_the_token_is_refused(tablet: Account, work: Operation) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(tablet, backend="django.contrib.auth.backends.ModelBackend")
    assert client.post(OUTBOX, "{}", content_type="application/json").status_code == 403
    token = client.get(OUTBOX).json()["token"]
    answer = client.post(
        OUTBOX, json.dumps({"items": []}), content_type="application/json", headers={"X-CSRFToken": token}
    )
    assert answer.json() == {"results": []}


@pytest.mark.parametrize(
    ("time", "words"),
    [(at(3, "10:03"), "still to come"), (at(3, "09:00") - timedelta(days=15), "more than 14 days ago")],
)
def test_a_time_that_cannot_be_is_refused(
    tablet_client: Client, work: Operation, time: datetime, words: str
) -> None:
    state, sentence = only(send(tablet_client, item(mark(tablet_client), "start", work, time)))
    assert (state, words in sentence) == ("refused", True)
    assert not TimeEntry.objects.exists()
    assert words in LateTap.objects.get().sentence


def test_a_clock_that_is_a_minute_ahead_is_taken_for_now(
    tablet_client: Client, work: Operation, clock: Clock
) -> None:
    assert states(send(tablet_client, item(mark(tablet_client), "start", work, at(3, "10:01")))) == ["done"]
    assert TimeEntry.objects.get().started_at == clock.time


def test_what_is_refused_is_kept_for_the_lead_until_it_fits_or_is_settled(
    tablet_client: Client, lead_client: Client, work: Operation, clock: Clock
) -> None:
    who = mark(tablet_client)
    held = hold(work, "late glass", by=Actor(person=cast.person("Ilse")), at=at(3, "07:00"))
    first, second = (item(who, "start", work, at(3, time)) for time in ("08:00", "08:30"))
    for _ in range(2):
        assert states(send(tablet_client, first, second)) == ["refused", "refused"]
    assert LateTap.objects.count() == 2
    html = lead_client.get("/").content.decode()
    assert "2 taps that came late" in html
    assert "Mara Lind: start, Beveling" in html
    held.released_at = at(3, "07:30")
    held.save()
    assert states(send(tablet_client, first)) == ["done"]
    assert LateTap.objects.unsettled().get().client_id.hex == second["id"].replace("-", "")
    left = LateTap.objects.unsettled().get()
    assert lead_client.post(f"/late/{left.pk}/settle/").status_code == 302
    assert not LateTap.objects.unsettled().exists()
    assert LateTap.objects.get(pk=left.pk).settled_by == "Nora Feld"
    assert "that came late" not in lead_client.get("/").content.decode()
    answer = lead_client.post(f"/late/{left.pk}/settle/", follow=True)
    assert "That is settled already." in answer.content.decode()
    assert Event.objects.filter(verb="settled").count() == 1


def test_only_the_lead_settles(tablet_client: Client, tablet: Account, work: Operation) -> None:
    send(tablet_client, item(mark(tablet_client), "pause", work, at(3, "08:00")))
    with pytest.raises(Refused, match="Only the lead"):
        late.settle(LateTap.objects.get(), by=Actor(account=tablet), at=at(3, "10:00"))


def test_two_people_on_one_thing_stand_beside_each_other_and_the_lead_is_told(
    tablet_client: Client, work: Operation
) -> None:
    who = mark(tablet_client)
    ilse = cast.person("Ilse")
    start(work, ilse, by=Actor(person=ilse), at=at(3, "08:30"))
    taps = [item(who, "start", work, at(3, "08:00")), item(who, "pause", work, at(3, "09:00"))]
    assert states(send(tablet_client, *taps)) == ["done", "done"]
    work.refresh_from_db()
    assert work.keeper == ilse
    assert work.started_at == at(3, "08:00")
    assert TimeEntry.objects.get(person__name="Mara Lind").minutes == 60
    assert TimeEntry.objects.running().get().person == ilse
    kept = LateTap.objects.get()
    assert (kept.stands, kept.sentence) == (True, "Ilse Roth had it on the bench. The hours of both stand.")


def test_work_on_what_was_finished_since_counts_and_stays_finished(
    tablet_client: Client, work: Operation
) -> None:
    who = mark(tablet_client)
    ilse = cast.person("Ilse")
    finish(work, ilse, by=Actor(person=ilse), at=at(3, "09:30"))
    taps = [item(who, "start", work, at(3, "08:00")), item(who, "pause", work, at(3, "09:00"))]
    assert states(send(tablet_client, *taps)) == ["done", "done"]
    work.refresh_from_db()
    assert (work.finished_at, work.keeper) == (at(3, "09:30"), None)
    assert TimeEntry.objects.get().minutes == 60
    assert "finished since" in LateTap.objects.get().sentence


@pytest.mark.parametrize("verb", ["finish", "put-back", "hold"])
def test_a_timer_that_began_later_is_not_stopped_by_what_comes_late(
    tablet_client: Client, work: Operation, verb: str
) -> None:
    who = mark(tablet_client)
    mara = cast.person("Mara")
    start(work, mara, by=Actor(person=mara), at=at(3, "09:30"))
    late_one = item(who, verb, work, at(3, "09:00"), **({"quick": "late glass"} if verb == "hold" else {}))
    state, sentence = only(send(tablet_client, late_one))
    assert (state, sentence) == (
        "refused",
        "Mara Lind has been at Beveling since 09:30, which is later than that.",
    )
    work.refresh_from_db()
    assert work.keeper == mara
    assert TimeEntry.objects.running().get().started_at == at(3, "09:30")


def test_a_late_pause_does_not_take_back_the_next_start(tablet_client: Client, work: Operation) -> None:
    who = mark(tablet_client)
    mara = cast.person("Mara")
    start(work, mara, by=Actor(person=mara), at=at(3, "09:30"))
    assert "later than that" in only(send(tablet_client, item(who, "pause", work, at(3, "09:00"))))[1]
    assert TimeEntry.objects.running().count() == 1


def test_hours_in_closed_order_are_not_overlapped(
    tablet_client: Client, panel: Panel, work: Operation
) -> None:
    who = mark(tablet_client)
    mara, other = (
        cast.person("Mara"),
        cast.operation_of(cast.make_panel(panel.job, 2, ("Beveling",)), "Beveling"),
    )
    start(other, mara, by=Actor(person=mara), at=at(3, "08:30"))
    pause(other, mara, by=Actor(person=mara), at=at(3, "09:00"))
    state, sentence = only(send(tablet_client, item(who, "start", work, at(3, "08:00"))))
    assert (state, sentence) == ("refused", "Mara Lind has hours written down that are later than that.")
    assert TimeEntry.objects.count() == 1
    assert LateTap.objects.get().happened_at == at(3, "08:00")


def test_pieces_of_two_add_up_and_a_finish_counts_what_is_left(
    tablet_client: Client, work: Operation
) -> None:
    who = mark(tablet_client)
    ilse = cast.person("Ilse")
    start(work, cast.person("Mara"), by=Actor(person=cast.person("Mara")), at=at(3, "08:00"))
    count_pieces(work, ilse, by=Actor(person=ilse), at=at(3, "09:00"), add=4)
    late_ones = [
        item(who, "pieces", work, at(3, "08:30"), add="5"),
        item(who, "pieces", work, at(3, "08:40"), add="5"),
    ]
    first, second = send(tablet_client, *late_ones)
    assert (first["state"], second["state"]) == ("done", "refused")
    assert second["sentence"] == "There are 10 pieces, 1 of them left to do."
    assert states(send(tablet_client, item(who, "finish", work, at(3, "09:30")))) == ["done"]
    work.refresh_from_db()
    assert work.quantity_done == 10


def test_one_that_breaks_keeps_nothing_back_and_a_busy_database_keeps_the_order(
    tablet_client: Client, work: Operation, monkeypatch: pytest.MonkeyPatch
) -> None:
    who = mark(tablet_client)
    items = [item(who, "pause", work, at(3, "08:00")), item(who, "start", work, at(3, "08:30"))]
    for error, expected in (
        (OperationalError("locked"), ["again"]),
        (ValueError("broken"), ["refused", "done"]),
    ):

        def fail(*_: Any, error: Exception = error, **__: Any) -> None:
            raise error

        monkeypatch.setattr(bench_taps.bench, "pause", fail)
        assert states(send(tablet_client, *items)) == expected
    assert TimeEntry.objects.get().started_at == at(3, "08:30")


def test_only_who_tapped_their_name_here_can_have_tapped(
    tablet_client: Client, lead_client: Client, work: Operation, clock: Clock
) -> None:
    who = mark(tablet_client)
    forged = item(who[:-3] + "abc", "start", work, at(3, "08:00"))
    assert "cannot be told who" in only(send(tablet_client, forged))[1]
    assert "another account" in only(send(lead_client, item(who, "start", work, at(3, "08:00"))))[1]
    person = cast.person("Mara")
    person.active = False
    person.save()
    assert "no longer on the list" in only(send(tablet_client, item(who, "start", work, at(3, "08:00"))))[1]
    clock.time = at(20, "10:00")
    assert "too old" in only(send(tablet_client, item(who, "start", work, at(20, "08:00"))))[1]
    assert not TimeEntry.objects.exists()


def test_what_is_no_tap_is_refused_with_a_sentence(tablet_client: Client, work: Operation) -> None:
    who = mark(tablet_client)
    gone = Operation(pk=999_999)
    results = send(
        tablet_client,
        item(who, "sing", work, at(3, "08:00")),
        item(who, "start", gone, at(3, "08:00")),
        item(who, "pieces", work, at(3, "08:00"), total="many"),
        item(who, "hold", work, at(3, "08:00")),
        {"id": "none"},
    )
    assert states(results) == ["refused"] * 5
    assert [result["sentence"] for result in results][1:4] == [
        "That is not there any more.",
        "Enter a whole number.",
        "Say what it waits for.",
    ]


def test_a_batch_that_cannot_be_read_is_answered(tablet_client: Client) -> None:
    answer = tablet_client.post(OUTBOX, "[1]", content_type="application/json")
    assert (answer.status_code, answer.json()["sentence"]) == (400, "There is no list of items.")


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "no JSON"),
        (b"\xff", "no JSON"),
        (b"[" * 100_000, "no JSON"),
        (b'{"items": {}}', "no list"),
        (b'{"items": [%s]}' % b",".join([b"1"] * (MOST_ITEMS + 1)), "more than 100"),
        (b" " * (MOST_BYTES + 1), "too much"),
    ],
)
def test_the_parser_refuses_a_batch(body: bytes, words: str) -> None:
    with pytest.raises(BadBatch, match=words):
        read_batch(body)


GOOD: dict[str, Any] = {
    "id": "7d444840-9dc0-11d1-b245-5ffdce74fad2",
    "verb": "start",
    "pk": 4,
    "at": 1_772_528_400_000,
    "who": "x",
    "fields": {"add": "1"},
}


def test_the_parser_reads_a_tap() -> None:
    [sent] = read_batch(json.dumps({"items": [GOOD]}).encode())
    assert isinstance(sent, Sent)
    assert sent.at == at(3, "10:00")
    assert sent.fields == {"add": "1"}


@pytest.mark.parametrize(
    "wrong",
    [
        {"id": "7"},
        {"id": None},
        {"verb": 4},
        {"verb": "x" * 41},
        {"pk": True},
        {"pk": -1},
        {"pk": 2**63},
        {"at": 1.5},
        {"at": "1"},
        {"at": 10**15},
        {"who": "x" * 401},
        {"fields": []},
        {"fields": {"a": 1}},
        {"fields": {"a": "x" * 2001}},
        {"fields": {"a": "\0"}},
        {"fields": {"a": "\ud800"}},
        {"fields": {str(number): "" for number in range(13)}},
    ],
    ids=str,
)
def test_the_parser_refuses_an_item_and_reads_on(wrong: dict[str, Any]) -> None:
    items = read_batch(json.dumps({"items": [GOOD | wrong, 3, GOOD]}).encode())
    assert [type(one) for one in items] == [Unreadable, Unreadable, Sent]


def test_the_pulse_changes_with_what_pages_show_and_only_then(tablet_client: Client, work: Operation) -> None:
    first = tablet_client.get("/pulse/")
    again = tablet_client.get("/pulse/", headers={"If-None-Match": first["ETag"]})
    assert (first.status_code, again.status_code, again.content) == (200, 304, b"")
    mara = cast.person("Mara")
    start(work, mara, by=Actor(person=mara), at=at(3, "09:30"))
    changed = tablet_client.get("/pulse/", headers={"If-None-Match": first["ETag"]})
    assert changed.status_code == 200
    assert changed["ETag"] != first["ETag"]


def test_the_worker_may_rule_over_the_bench_and_names_its_version(tablet_client: Client) -> None:
    answer = tablet_client.get("/bench/worker.js")
    assert answer["Content-Type"] == "text/javascript"
    text = answer.content.decode()
    assert 'self.VERSION = "unhashed"' in text
    assert 'importScripts("/static/js/worker.js")' in text
    assert "computer does not answer</h1>" in text


def hours_of(work: Operation, start: str, stop: str) -> dict[str, str]:
    return {
        "operation": str(work.pk),
        "day": "2026-03-03",
        "start": start,
        "stop": stop,
        "hours": "",
        "note": "wheel",
    }


def test_hours_written_down_without_the_line_are_there_once(tablet_client: Client, work: Operation) -> None:
    sent = item(mark(tablet_client), "hours", work, at(3, "09:50"), **hours_of(work, "08:00", "09:30"))
    for _ in range(2):
        assert only(send(tablet_client, sent)) == ("done", "Written down.")
    entry = TimeEntry.objects.get()
    assert (entry.minutes, entry.note, entry.person) == (90, "wheel", cast.person("Mara"))
    assert Event.objects.get(subject="timeentry").at == at(3, "09:50")


def test_hours_that_are_refused_come_back_and_are_kept_for_the_lead(
    tablet_client: Client, work: Operation
) -> None:
    who = mark(tablet_client)
    first = item(who, "hours", work, at(3, "09:50"), **hours_of(work, "08:00", "09:30"))
    over = item(who, "hours", work, at(3, "09:51"), **hours_of(work, "09:00", "09:45"))
    none = item(who, "hours", work, at(3, "09:52"), **hours_of(work, "", ""))
    results = send(tablet_client, first, over, none)
    assert states(results) == ["done", "refused", "refused"]
    assert "Type from when to when it was" in results[2]["sentence"]
    kept = LateTap.objects.get(client_id=over["id"])
    assert (kept.word, kept.typed["start"], kept.sentence) == (
        "hours written down",
        "09:00",
        results[1]["sentence"],
    )
