"""The lists of what is bought: of one job and of the whole shop."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.actions import Actor
from jobs.actions.materials import reckon_needs
from jobs.models import Account, Gate, Glass, Job, Need, Projection, Stage, Studio, Supplier
from tests import cast, quoting

LIST = reverse("job-materials", args=["0412"])
RECKON = reverse("materials-reckon", args=["0412"])
ADD = reverse("need-add")


@pytest.fixture
def job(office: Account) -> Job:
    quoting.make_stock()
    job = quoting.make_enquiry()
    quoting.take_off(job.panels.get(), office)
    Job.objects.update(stage=Stage.ORDERED)
    return job


@pytest.fixture
def needs(job: Job, office: Account) -> dict[str, Need]:
    reckon_needs(job, by=Actor(account=office), at=timezone.now())
    return {str(need.what): need for need in job.needs.all()}


def test_before_the_list_is_made_the_page_says_what_it_would_have(office_client: Client, job: Job) -> None:
    text = office_client.get(LIST).content.decode()
    assert "Make the list" in text
    # The studio of the tests measures in inches: 1000 mm are 39.37 in, and sheets are bought to the quarter.
    assert "1 sheet of 39 1/4 × 39 1/4 in" in text
    assert not Need.objects.exists()
    Studio.objects.update(units="mm")
    assert "1 sheet of 1000 × 1000 mm" in office_client.get(LIST).content.decode()


def test_the_list_is_made(office_client: Client, job: Job) -> None:
    answer = office_client.post(RECKON)
    assert (answer.status_code, answer["Location"]) == (303, LIST)
    assert Need.objects.count() == 5
    text = office_client.get(LIST).content.decode()
    # 0.36 m² twice at 100, three sticks at 12, 0.09 kg at 30.
    assert "110.70 EUR" in text
    assert "Northgate Glass, 10 days" in text


def test_a_panel_that_is_not_taken_off_is_said(office_client: Client, job: Job) -> None:
    cast.make_panel(job, 2)
    office_client.post(RECKON)
    assert "Light 2 has not been taken off" in office_client.get(LIST).content.decode()


def test_a_closed_job_refuses(office_client: Client, job: Job) -> None:
    Job.objects.update(stage=Stage.COMPLETE)
    answer = office_client.post(RECKON)
    assert answer.status_code == 422
    assert "reopen it first" in answer.content.decode()


def test_ordered_and_arrived_in_one_tap(office_client: Client, needs: dict[str, Need]) -> None:
    red = needs["Red"]
    answer = office_client.post(reverse("need-do", args=[red.pk, "order"]))
    assert (answer.status_code, answer["Location"]) == (303, f"{LIST}#need-{red.pk}")
    red.refresh_from_db()
    assert red.expected == cast.today() + timedelta(days=10)
    answer = office_client.post(reverse("need-do", args=[red.pk, "receive"]), {"list": "shop"})
    assert answer["Location"] == f"{reverse('materials')}#need-{red.pk}"
    red.refresh_from_db()
    assert red.arrived == cast.today()


def test_the_last_glass_clears_the_gate_and_may_be_taken_back(
    office_client: Client, needs: dict[str, Need], job: Job
) -> None:
    gate = cast.make_gate(job, "glass")
    for name in ("Red", "Blue"):
        office_client.post(reverse("need-do", args=[needs[name].pk, "receive"]))
    gate.refresh_from_db()
    assert gate.cleared is not None
    office_client.post(reverse("need-do", args=[needs["Red"].pk, "take-back"]))
    assert Gate.objects.get().cleared is None


def test_done_already_is_said_at_its_row(office_client: Client, needs: dict[str, Need]) -> None:
    address = reverse("need-do", args=[needs["Red"].pk, "receive"])
    office_client.post(address)
    for where, title in (("job", "Materials of 0412"), ("shop", "<h1>Materials</h1>")):
        answer = office_client.post(address, {"list": where})
        assert answer.status_code == 422
        # The shop's list shows what is to come; what is there already is no row of it.
        assert title in answer.content.decode()
    assert "arrived already" in office_client.post(address, {"list": "job"}).content.decode()


def test_another_day_and_what_is_refused_of_it(office_client: Client, needs: dict[str, Need]) -> None:
    red = needs["Red"]
    office_client.post(reverse("need-do", args=[red.pk, "order"]))
    assert "Expected on" in office_client.get(f"{LIST}?edit=expect-{red.pk}").content.decode()
    answer = office_client.post(reverse("need-do", args=[red.pk, "expect"]), {"expected": "2020-01-01"})
    assert answer.status_code == 422
    assert "cannot arrive before" in answer.content.decode()
    assert 'value="2020-01-01"' in answer.content.decode()
    day = cast.today() + timedelta(days=3)
    office_client.post(reverse("need-do", args=[red.pk, "expect"]), {"expected": day.isoformat()})
    red.refresh_from_db()
    assert red.expected == day


def test_by_hand(office_client: Client, needs: dict[str, Need]) -> None:
    Studio.objects.update(units="mm")
    red = needs["Red"]
    supplier = Supplier.objects.get(name="Mill Lane Metals")
    typed = {"amount": "2", "price": "80", "supplier": supplier.pk, "note": "two whole sheets"}
    answer = office_client.post(reverse("need-do", args=[red.pk, "change"]), typed)
    assert answer.status_code == 303
    red.refresh_from_db()
    assert (red.amount, red.price, red.supplier, red.by_hand) == (Decimal(2), Decimal(80), supplier, True)
    answer = office_client.post(reverse("need-do", args=[red.pk, "change"]), typed | {"amount": "0"})
    assert answer.status_code == 422
    assert "Say how much of it is needed." in answer.content.decode()
    assert "two whole sheets" in answer.content.decode()


def test_glass_is_shown_and_typed_in_square_feet(office_client: Client, needs: dict[str, Need]) -> None:
    """The studio of the tests measures in inches: 0.36 m² are 3.88 sq ft, and 100 a square meter is 9.29 a foot."""
    Studio.objects.update(units="in")
    red = needs["Red"]
    page = office_client.get(f"{LIST}?edit=change-{red.pk}").content.decode()
    assert "3.88 sq ft, 36.00" in page
    assert "m²" not in page
    assert "Amount, sq ft" in page
    assert "Price per sq ft" in page
    typed = {"amount": "3.88", "price": "9.29", "supplier": red.supplier_id, "note": "as it was"}
    act = reverse("need-do", args=[red.pk, "change"])
    office_client.post(act, typed)
    red.refresh_from_db()
    assert (red.amount, red.price) == (Decimal("0.36"), Decimal(100)), "untouched, to the last place"
    office_client.post(act, typed | {"amount": "10", "price": "5.25"})
    red.refresh_from_db()
    assert (red.amount, red.price) == (Decimal("0.929"), Decimal("56.51"))
    assert "10 sq ft" in office_client.get(LIST).content.decode()


def test_glass_is_added_in_square_feet(office_client: Client, needs: dict[str, Need], job: Job) -> None:
    Studio.objects.update(units="in")
    job.needs.all().delete()
    red = Glass.objects.get(name="Red")
    assert f"{red} (sq ft)" in office_client.get(LIST).content.decode()
    typed = {"list": "job", "job": job.number, "what": f"glass-{red.pk}", "amount": "10", "price": ""}
    assert office_client.post(reverse("need-add"), typed).status_code == 303
    need = job.needs.get()
    assert (need.amount, need.unit, need.price) == (Decimal("0.929"), "m²", Decimal(100))


def test_no_such_verb_and_wrong_method(office_client: Client, needs: dict[str, Need]) -> None:
    pk = needs["Red"].pk
    assert office_client.post(reverse("need-do", args=[pk, "burn"])).status_code == 404
    assert office_client.get(reverse("need-do", args=[pk, "order"])).status_code == 405
    assert office_client.post(reverse("materials")).status_code == 405
    assert office_client.get(RECKON).status_code == 405


def test_the_bench_buys_nothing(tablet_client: Client, needs: dict[str, Need]) -> None:
    assert tablet_client.get(reverse("materials")).status_code == 403
    assert tablet_client.post(reverse("need-do", args=[needs["Red"].pk, "order"])).status_code == 403


def test_what_has_to_be_ordered_first_stands_first(
    office_client: Client, needs: dict[str, Need], job: Job
) -> None:
    today = timezone.now()
    for kind, days in (("Cutting", 5), ("Assembly", 40)):
        moment = today + timedelta(days=days)
        row = cast.operation_of(job.panels.get(), kind)
        Projection.objects.create(operation=row, p50=moment, p80=moment, p95=moment, start=moment)
    text = office_client.get(reverse("materials")).content.decode()
    # The glass takes ten days and is needed in five.
    assert "2 of 5 late" in text
    assert text.index(f'id="need-{needs["Blue"].pk}"') < text.index(f'id="need-{needs["Solder"].pk}"')


def test_what_was_expected_before_today_is_overdue_and_not_yet_too_late(
    office_client: Client, needs: dict[str, Need], job: Job
) -> None:
    now = timezone.now()
    moment = now + timedelta(days=20)
    row = cast.operation_of(job.panels.get(), "Cutting")
    Projection.objects.create(operation=row, p50=moment, p80=moment, p95=moment, start=moment)
    day = timezone.localdate(now)
    red = Need.objects.filter(pk=needs["Red"].pk)
    red.update(ordered=day - timedelta(days=9), expected=day - timedelta(days=2))
    text = office_client.get(reverse("materials")).content.decode()
    assert ", overdue</span>" in text
    assert ", too late</span>" not in text
    red.update(expected=day + timedelta(days=40))
    text = office_client.get(reverse("materials")).content.decode()
    assert ", too late</span>" in text
    assert ", overdue</span>" not in text


def test_the_shops_list_is_of_ordered_jobs_and_of_what_is_to_come(
    office_client: Client, needs: dict[str, Need], job: Job
) -> None:
    office_client.post(reverse("need-do", args=[needs["Red"].pk, "receive"]))
    text = office_client.get(reverse("materials")).content.decode()
    assert f'id="need-{needs["Red"].pk}"' not in text
    assert f'id="need-{needs["Blue"].pk}"' in text
    assert (
        f'id="need-{needs["Red"].pk}"'
        in office_client.get(reverse("materials"), {"show": "all"}).content.decode()
    )
    metals = Supplier.objects.get(name="Mill Lane Metals")
    text = office_client.get(reverse("materials"), {"supplier": metals.pk}).content.decode()
    assert f'id="need-{needs["Blue"].pk}"' not in text
    Job.objects.update(stage=Stage.QUOTED)
    assert "Nothing is to come" in office_client.get(reverse("materials")).content.decode()


def test_a_filter_that_is_none(office_client: Client, needs: dict[str, Need]) -> None:
    assert office_client.get(reverse("materials"), {"supplier": "x"}).status_code == 400


def test_came_of_all_jobs_cut_together(
    office_client: Client, needs: dict[str, Need], office: Account
) -> None:
    """Each job's border takes two sticks, and 600 + 600 and 900 + 900 mm fill a stick each: nothing is saved there."""
    other = quoting.make_enquiry("0413")
    quoting.take_off(other.panels.get(), office, share=0.5)
    Job.objects.update(stage=Stage.ORDERED)
    reckon_needs(other, by=Actor(account=office), at=timezone.now())
    answer = office_client.get(reverse("materials"), {"together": "on"})
    pooled = {
        each.came.profile: (each.jobs, each.apart, each.together, each.proven)
        for each in answer.context["pooled"]
    }
    # Inside: three of 500 mm, and three of 250 mm which go beside them: 500 x 3 + 250, and 250 x 2.
    assert pooled["H 6 mm"] == (2, 2, 2, True)
    assert pooled["H 10 mm border"] == (2, 4, 4, True)
    assert "proven" in answer.content.decode()


def test_the_queries_do_not_grow(office_client: Client, needs: dict[str, Need], office: Account) -> None:
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as found:
            assert office_client.get(reverse("materials")).status_code == 200
        return len(found)

    count()
    before = count()
    for number in ("0500", "0501", "0502"):
        job = quoting.make_enquiry(number)
        quoting.take_off(job.panels.get(), office)
        Job.objects.update(stage=Stage.ORDERED)
        reckon_needs(job, by=Actor(account=office), at=timezone.now())
    assert count() == before


def test_added_by_hand_on_either_list(office_client: Client, job: Job) -> None:
    red, blue = (Glass.objects.get(name=name) for name in ("Red", "Blue"))
    assert "Add by hand" in office_client.get(LIST).content.decode()
    typed = {"job": "0412", "amount": "1.5", "note": "for the transom"}
    answer = office_client.post(ADD, typed | {"what": f"glass-{red.pk}", "list": "job"})
    need = Need.objects.get()
    assert (answer.status_code, answer["Location"]) == (303, f"{LIST}#need-{need.pk}")
    day = cast.today() + timedelta(days=30)
    more = {"what": f"glass-{blue.pk}", "list": "shop", "needed_by": day.isoformat()}
    answer = office_client.post(ADD, typed | more)
    assert answer["Location"].startswith(reverse("materials"))
    text = office_client.get(reverse("materials")).content.decode()
    assert "for the transom" in text
    assert "as typed" in text
    office_client.post(reverse("need-do", args=[need.pk, "remove"]))
    assert [str(each.what) for each in Need.objects.all()] == ["Blue"]


def test_what_is_refused_by_hand_stands_beside_what_was_typed(office_client: Client, job: Job) -> None:
    red = Glass.objects.get(name="Red")
    typed = {"job": "0412", "what": f"glass-{red.pk}", "amount": "0", "note": "two whole sheets"}
    for where in ("job", "shop"):
        answer = office_client.post(ADD, typed | {"list": where})
        assert answer.status_code == 422
        text = answer.content.decode()
        assert "Say how much of it is needed." in text
        assert "two whole sheets" in text
    assert office_client.post(ADD, typed | {"list": "shop", "job": "9999"}).status_code == 422
    assert office_client.post(ADD, typed | {"list": "job", "job": "9999"}).status_code == 404
    assert office_client.post(ADD, typed | {"list": "job", "what": "glass-x"}).status_code == 422
    assert not Need.objects.exists()
    assert office_client.get(ADD).status_code == 405


def test_the_bench_adds_nothing(tablet_client: Client, job: Job) -> None:
    assert tablet_client.post(ADD, {"job": "0412", "list": "job"}).status_code == 403
