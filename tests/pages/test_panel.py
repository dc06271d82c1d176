"""The page of a panel: what it shows, and each verb of its work."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from jobs.models import Account, Breakage, Event, Hold, Operation, Panel, PlanState, Projection, TimeEntry
from tests import cast

SIZE = {"width_mm": "600 mm", "height_mm": "900 mm", "thickness_mm": "1/4 in"}
ABOUT = {"name": "Light 1", "pieces": "10", "copies": "1"} | SIZE


@pytest.fixture(autouse=True)
def panel(shop: None) -> Panel:
    state = PlanState.current()
    state.planned_at, state.planned_revision = timezone.now(), state.revision
    state.save()
    return cast.make_panel(cast.make_job(), kinds=("Cutting", "Beveling", "Assembly", "Cure", "Lamination"))


def text(response: object) -> str:
    return response.content.decode()  # type: ignore[attr-defined]


def do(client: Client, operation: Operation, verb: str, **values: str) -> object:
    data = {f"{verb}-{name}": value for name, value in values.items()}
    return client.post(f"/jobs/0412/work/{operation.pk}/{verb}/", data)


def test_shows_everything_of_a_panel(office_client: Client, panel: Panel) -> None:
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    now = timezone.now()
    mara = cast.person("Mara")
    TimeEntry.objects.create(
        person=mara, operation=cutting, started_at=now - timedelta(hours=3), stopped_at=now, minutes=180
    )
    Breakage.objects.create(operation=cutting, pieces=2, at=now, person=mara, note="slipped")
    Hold.objects.create(operation=beveling, reason="wheel broken", since=now, held_by="Nora Feld")
    for thing in ({"panel": panel}, {"operation": beveling, "start": now, "finish": now, "person": mara}):
        Projection.objects.create(p50=now, p80=now, p95=now, **thing)
    page = text(office_client.get("/jobs/0412/1/"))
    for said in (
        "0412/1 Light 1", "3:00", "1:30 over", "slipped", "wheel broken", "Mara Lind, by the plan", "with 80&nbsp;%",
        "Eye protection. Keep the wheel wet.", "after Cutting", "0 of 10 pieces",
    ):  # fmt: skip
        assert said in page


def test_weight_by_the_density_of_float_glass(office_client: Client, panel: Panel) -> None:
    # 0.9 x 0.6 m of 6 mm: 8.1 kg, from 2500 kg/m3 (EN 572-1, from memory); in pounds 17.9.
    Panel.objects.update(thickness_mm=6, copies=3)
    page = text(office_client.get("/jobs/0412/1/"))
    assert "18 lb each, 54 lb together" in page
    assert "94-110" not in page


def test_heavy_glass_is_cautioned_without_declaring_anything_safe(
    office_client: Client, panel: Panel
) -> None:
    # Above 23 kg, the recommended weight limit of DHHS (NIOSH) 94-110: 1 x 1 m of 10 mm is 25 kg.
    Panel.objects.update(width_mm=1000, height_mm=1000, thickness_mm=Decimal("9.2"))
    assert "94-110" not in text(office_client.get("/jobs/0412/1/"))
    Panel.objects.update(thickness_mm=10)
    page = text(office_client.get("/jobs/0412/1/"))
    assert "Heavier than 51 lb" in page
    assert "confirm locally" in page


def test_no_such_panel(office_client: Client) -> None:
    assert office_client.get("/jobs/0412/9/").status_code == 404
    assert office_client.get("/jobs/9/1/").status_code == 404


def test_change_of_size(office_client: Client, panel: Panel) -> None:
    response = office_client.post("/jobs/0412/1/change/about/", ABOUT | {"width_mm": "24 1/2"})
    assert (response.status_code, response.headers["Location"]) == (303, "/jobs/0412/1/")
    panel.refresh_from_db()
    assert panel.width_mm == Decimal("622.30")
    page = text(office_client.get("/jobs/0412/1/"))
    assert "<del>23 5/8 in</del> → <ins>24 1/2 in</ins>" in page


def test_a_form_that_nobody_touched_changes_nothing(office_client: Client, panel: Panel) -> None:
    # 600 mm is no whole sixteenth of an inch; shown rounded it would come back as another length.
    page = text(office_client.get("/jobs/0412/1/?edit=about"))
    assert 'value="600 mm"' in page
    assert 'value="1/4 in"' in page
    office_client.post("/jobs/0412/1/change/about/", ABOUT)
    assert not Event.objects.exists()


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"width_mm": "wide"}, "is not a length"),
        ({"width_mm": ""}, "This field is required"),
        ({"copies": "0"}, "greater than or equal to 1"),
        ({"thickness_mm": "2 m"}, "at most 100 mm thick"),
    ],
)
def test_change_refused_keeps_what_was_typed(office_client: Client, values: dict, sentence: str) -> None:
    response = office_client.post("/jobs/0412/1/change/about/", ABOUT | {"name": "Fanlight"} | values)
    assert response.status_code == 422
    assert sentence in text(response)
    assert 'value="Fanlight"' in text(response)


def test_where_hold_and_take_out(office_client: Client, panel: Panel) -> None:
    assert office_client.post("/jobs/0412/1/change/where/", {"where": "rack 4"}).status_code == 303
    assert office_client.post("/jobs/0412/1/change/hold/", {"reason": "green glass"}).status_code == 303
    page = text(office_client.get("/jobs/0412/1/"))
    assert "rack 4" in page
    assert "green glass" in page
    response = office_client.post("/jobs/0412/1/change/hold/", {"reason": "again"})
    assert response.status_code == 422
    assert "held already" in text(response)
    Operation.objects.filter(kind__name="Cutting").update(started_at=timezone.now())
    response = office_client.post("/jobs/0412/1/change/remove/")
    assert response.status_code == 422
    assert "worked on already" in text(response)
    Operation.objects.update(started_at=None)
    assert office_client.post("/jobs/0412/1/change/remove/").headers["Location"] == "/jobs/0412/"
    assert not Panel.objects.exists()
    assert office_client.post("/jobs/0412/1/change/where/", {}).status_code == 404


def test_add_work(office_client: Client, panel: Panel) -> None:
    cutting, beveling = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Beveling")
    blasting = cast.OperationKind.objects.get(name="Blasting")
    typed = {"kind": blasting.pk, "estimate": "4.5", "after": [cutting.pk], "before": [beveling.pk]}
    response = office_client.post("/jobs/0412/1/change/new-work/", typed | {"estimate": "long"})
    assert response.status_code == 422
    assert "not an amount of time" in text(response)
    assert office_client.post("/jobs/0412/1/change/new-work/", typed).status_code == 303
    made = cast.operation_of(panel, "Blasting")
    assert made.estimate == 270
    assert made in beveling.after.all()


def test_the_editor_offers_what_makes_sense(office_client: Client, lead_client: Client, panel: Panel) -> None:
    def verbs(client: Client, name: str) -> set[str]:
        pk = cast.operation_of(panel, name).pk
        page = text(client.get(f"/jobs/0412/1/?edit=work-{pk}"))
        known = [
            "estimate",
            "order",
            "person",
            "split",
            "skip",
            "early",
            "first",
            "send-out",
            "hold",
            "take-up",
        ]
        return {verb for verb in known if f'hx-post="/jobs/0412/work/{pk}/{verb}/"' in page}

    assert verbs(office_client, "Cutting") == {
        "estimate",
        "order",
        "person",
        "split",
        "skip",
        "first",
        "hold",
    }
    assert verbs(lead_client, "Cutting") - verbs(office_client, "Cutting") == {"early"}
    assert verbs(office_client, "Cure") == {"estimate", "order", "skip", "hold"}
    assert verbs(office_client, "Lamination") == {"estimate", "order", "split", "skip", "send-out", "hold"}


@pytest.mark.parametrize(
    ("name", "verb", "values", "check"),
    [
        ("Cutting", "estimate", {"estimate": "2:30", "why": "thick"}, lambda o: o.estimate == 150),
        ("Cutting", "split", {"pieces": "4"}, lambda o: o.quantity == 6),
        ("Cutting", "skip", {"why": "cut already"}, lambda o: o.skipped),
        ("Cutting", "first", {}, lambda o: o.pinned_place == -1),
        ("Cutting", "hold", {"reason": "no glass"}, lambda o: o.holds.count() == 1),
        ("Assembly", "order", {"place": "1"}, lambda o: o.place == 1 and not o.after.exists()),
        ("Assembly", "split", {"minutes": "1:00"}, lambda o: o.estimate == 180),
    ],
)
def test_verbs(
    office_client: Client, panel: Panel, name: str, verb: str, values: dict, check: object
) -> None:
    operation = cast.operation_of(panel, name)
    assert do(office_client, operation, verb, **values).status_code == 303  # type: ignore[attr-defined]
    operation.refresh_from_db()
    assert check(operation)  # type: ignore[operator]


def test_person_by_skill(office_client: Client, panel: Panel) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    assert do(office_client, beveling, "person", person=str(cast.person("Ilse").pk)).status_code == 303  # type: ignore[attr-defined]
    assert "given to Ilse Roth" in text(office_client.get("/jobs/0412/1/"))
    assert do(office_client, beveling, "person", person=str(cast.person("Jonas").pk)).status_code == 422  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("verb", "values", "sentence"),
    [
        ("estimate", {"estimate": "0", "why": "x"}, "Work takes more than no time"),
        ("split", {"pieces": "10"}, "between 1 and 9 pieces"),
        ("by-rule", {}, "by the rule already"),
        ("early", {"why": "rush"}, "Only the lead"),
        ("wait", {}, "Only the lead"),
        ("take-up", {}, "is not skipped"),
        ("send-out", {}, "done in the studio"),
        ("came-back", {}, "done in the studio"),
        ("not-out", {}, "done in the studio"),
        ("reopen", {}, "not finished"),
        ("order", {"place": "77"}, "between 1 and 5"),
    ],
)
def test_refused_verbs_show_the_sentence(
    office_client: Client, panel: Panel, verb: str, values: dict, sentence: str
) -> None:
    response = do(office_client, cast.operation_of(panel, "Cutting"), verb, **values)
    assert response.status_code == 422  # type: ignore[attr-defined]
    assert sentence in text(response)


def test_a_circle_is_named_beside_what_was_chosen(office_client: Client, panel: Panel) -> None:
    cutting, assembly = cast.operation_of(panel, "Cutting"), cast.operation_of(panel, "Assembly")
    response = do(office_client, cutting, "order", place="1", after=str(assembly.pk))
    assert response.status_code == 422  # type: ignore[attr-defined]
    assert "Cutting would wait for Assembly" in text(response)


def test_lead_allows_early_and_opens_again(lead_client: Client, panel: Panel) -> None:
    beveling = cast.operation_of(panel, "Beveling")
    assert do(lead_client, beveling, "early", why="rush").status_code == 303  # type: ignore[attr-defined]
    assert do(lead_client, beveling, "wait").status_code == 303  # type: ignore[attr-defined]
    Operation.objects.filter(pk=beveling.pk).update(finished_at=timezone.now(), quantity_done=10)
    assert do(lead_client, beveling, "reopen").status_code == 303  # type: ignore[attr-defined]
    beveling.refresh_from_db()
    assert beveling.finished_at is None


def test_out_and_back_with_one_tap_each(office_client: Client, panel: Panel) -> None:
    lamination = cast.operation_of(panel, "Lamination")
    Operation.objects.exclude(pk=lamination.pk).update(finished_at=cast.at(2))
    assert f"/work/{lamination.pk}/send-out/" in text(office_client.get("/jobs/0412/1/"))
    assert do(office_client, lamination, "send-out").status_code == 303  # type: ignore[attr-defined]
    assert f"/work/{lamination.pk}/came-back/" in text(office_client.get("/jobs/0412/1/"))
    assert do(office_client, lamination, "came-back").status_code == 303  # type: ignore[attr-defined]
    lamination.refresh_from_db()
    assert lamination.finished_at is not None


def test_unknown_verbs_and_work_of_others(office_client: Client, panel: Panel) -> None:
    cutting = cast.operation_of(panel, "Cutting")
    assert do(office_client, cutting, "paint").status_code == 404  # type: ignore[attr-defined]
    cast.make_job("0413")
    assert office_client.post(f"/jobs/0413/work/{cutting.pk}/first/").status_code == 404
    assert office_client.post("/jobs/0412/1/change/moon/").status_code == 404


def test_wrong_method_and_wrong_person(
    office_client: Client, tablet_client: Client, client: Client, tablet: Account
) -> None:
    assert office_client.get("/jobs/0412/1/change/about/").status_code == 405
    assert office_client.post("/jobs/0412/1/").status_code == 405
    assert tablet_client.get("/jobs/0412/1/").status_code == 403
    assert tablet_client.post("/jobs/0412/1/change/where/", {"where": "x"}).status_code == 403
    assert client.get("/jobs/0412/1/").status_code == 302


def test_no_names_of_the_typed_as_markup(office_client: Client, panel: Panel) -> None:
    office_client.post("/jobs/0412/1/change/where/", {"where": "<script>alert(1)</script>"})
    page = text(office_client.get("/jobs/0412/1/"))
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_as_many_queries_for_much_work_as_for_little(office_client: Client, panel: Panel) -> None:
    def count() -> int:
        office_client.get("/jobs/0412/1/")
        with CaptureQueriesContext(connection) as queries:
            office_client.get("/jobs/0412/1/")
        return len(queries)

    few = count()
    cast.make_panel(panel.job, 2, ("Cutting",) * 20)
    Operation.objects.filter(panel__number=2).update(panel=panel)
    for n in range(8):
        TimeEntry.objects.create(
            person=cast.person("Mara"), operation=cast.operation_of(panel, "Beveling"),
            started_at=cast.at(3, f"{n + 8:02}:00"), stopped_at=cast.at(3, f"{n + 8:02}:30"), minutes=30,
        )  # fmt: skip
    assert count() == few


def test_another_size_says_what_the_hours_are_of(office_client: Client, panel: Panel) -> None:
    address, said = "/jobs/0412/1/change/about/", "The estimated hours are still those of before"
    office_client.post(address, ABOUT)
    office_client.post(address, ABOUT | {"name": "West light"})
    assert said not in text(office_client.get("/jobs/0412/1/"))
    office_client.post(address, ABOUT | {"width_mm": "40 in"})
    assert said in text(office_client.get("/jobs/0412/1/"))


def test_the_pieces_of_the_picture_are_numbered(office_client: Client) -> None:
    panel = cast.make_panel(cast.make_job("0777"))
    square = [[0, 0], [300, 0], [300, 450], [0, 450]]
    panel.drawing = {"pieces": [{"points": square, "at": [150, 225], "number": 12, "glass": "x"}]}
    panel.save(update_fields=["drawing"])
    page = office_client.get("/jobs/0777/1/").content.decode()
    assert '<text x="150" y="225"' in page
    assert ">12</text>" in page


def test_work_that_waits_is_put_first_by_one_click(office_client: Client, panel: Panel) -> None:
    assert text(office_client.get("/jobs/0412/1/")).count("Put it first<") == 3  # The attended work.
    cutting = cast.operation_of(panel, "Cutting")
    assert do(office_client, cutting, "first").status_code == 303  # type: ignore[attr-defined]
    assert text(office_client.get("/jobs/0412/1/")).count("Put it first<") == 2
