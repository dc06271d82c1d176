"""The work page is drawn once for all tablets, and still has each tablet's own token and a fresh id for each tap."""

import re
from datetime import date

import pytest
from django.core.cache import cache
from django.db.models import Model, Value
from django.db.models.functions import Concat
from django.test import Client
from django.utils import timezone

from jobs.models import Account, Job, Operation, OperationKind, Panel, Station, TimeEntry
from jobs.templatetags.kept import facts
from tests import cast

pytestmark = pytest.mark.usefixtures("shop")
BEVELING = "/bench/beveling/"


@pytest.fixture
def panel(monkeypatch: pytest.MonkeyPatch) -> Panel:
    monkeypatch.setattr(timezone, "now", lambda: cast.at(3, "10:00"))
    return cast.make_panel(cast.make_job(), kinds=("Beveling",))


def come(account: Account) -> Client:
    """A tablet that refuses forged forms, with Mara at it."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    names = client.get(BEVELING).content.decode()
    client.post(BEVELING + "person/", {"person": cast.person("Mara").pk, "csrfmiddlewaretoken": token(names)})
    return client


def token(html: str) -> str:
    return re.findall(r'name="csrfmiddlewaretoken" value="(\w{64})"', html)[-1]


def ids(html: str) -> list[str]:
    return re.findall(r'name="client_id" value="([0-9a-f-]{36})"', html)


def test_every_form_has_an_id_of_its_own_each_time(tablet_client: Client, panel: Panel) -> None:
    tablet_client.post(BEVELING + "person/", {"person": cast.person("Mara").pk})
    first, second = (ids(tablet_client.get(BEVELING).content.decode()) for _ in range(2))
    assert len(first) == len(second) > 2
    assert len({*first, *second}) == len(first) + len(second)


def test_a_tablet_can_tap_on_what_was_drawn_for_another(panel: Panel, tablet: Account) -> None:
    one, two = (come(tablet) for _ in range(2))
    one.get(BEVELING)
    html = two.get(BEVELING).content.decode()
    work = cast.operation_of(panel, "Beveling")
    tap = {"client_id": ids(html)[0], "csrfmiddlewaretoken": token(html)}
    assert two.post(f"{BEVELING}{work.pk}/start/", tap).status_code == 303
    assert TimeEntry.objects.running().get().operation == work
    assert "Pause" in one.get(BEVELING).content.decode()


def test_what_people_type_is_never_taken_for_a_mark(panel: Panel, tablet_client: Client) -> None:
    panel.name = "<tap> <token>"
    panel.save()
    tablet_client.post(BEVELING + "person/", {"person": cast.person("Mara").pk})
    html = tablet_client.get(BEVELING).content.decode()
    assert "&lt;tap&gt; &lt;token&gt;" in html
    assert "<tap>" not in html
    assert "<token>" not in html


@pytest.mark.parametrize(
    ("model", "values", "shown"),
    [
        (Panel, {"name": "Sunrise"}, "Sunrise"),
        (Panel, {"copies": 7}, "7 copies"),
        (Panel, {"drawing": {"pieces": [{"points": [[1, 2], [3, 4], [5, 7]]}]}}, "1,2 3,4 5,7"),
        (Panel, {"width_mm": 2540}, "100 ×"),
        (Operation, {"label": "Beveling again"}, "Beveling again"),
        (Operation, {"estimate": 6039}, "100:39"),
        (OperationKind, {"cautions": "Wet floor"}, "Wet floor"),
        (Job, {"wanted_by": date(2031, 5, 6)}, "Tue 6 May 2031"),
        (Station, {"benches": 9, "name": Concat("name", Value(" room"))}, "Beveling room"),
    ],
)
def test_a_row_is_drawn_anew_when_anything_in_it_changes(
    panel: Panel, tablet_client: Client, model: type[Model], values: dict[str, object], shown: str
) -> None:
    tablet_client.post(BEVELING + "person/", {"person": cast.person("Mara").pk})
    assert shown not in tablet_client.get(BEVELING).content.decode()
    model._default_manager.update(**values)
    cache.clear()  # The page, which knows of changes by their events. Its rows know by themselves.
    assert shown in tablet_client.get(BEVELING).content.decode()


def test_rows_alike_in_all_they_hold_are_alike(panel: Panel) -> None:
    first, second = (Panel.objects.select_related("job").get() for _ in range(2))
    assert facts(first) == facts(second)
    second.job.title = "Other"
    assert facts(first) != facts(second)
