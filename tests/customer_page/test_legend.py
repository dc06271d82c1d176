"""The legend of a drawing on the customer's page: each glass once, whatever is beveled of it."""

from typing import Any

from django.test import Client

from jobs.models import CustomerLink, Job
from jobs.views.customer_drawing import picture_of
from tests.customers import address, text


def pieces(*named: tuple[str, bool]) -> dict[str, Any]:
    """Strips of 100 mm: the glass of each, and whether it is beveled."""
    found = []
    for place, (glass, beveled) in enumerate(named):
        top, bottom = 100 * place, 100 * place + 100
        points = [[0, top], [600, top], [600, bottom], [0, bottom]]
        found.append({"points": points, "glass": glass, "color": "#dfeae6", "beveled": beveled})
    return {"width": 600, "height": 900, "pieces": found}


def test_a_glass_of_which_some_is_beveled_is_named_once(
    visitor: Client, job: Job, link: CustomerLink
) -> None:
    panel = job.panels.get()
    panel.drawing = pieces(("clear bevel", True), ("clear bevel", False), ("clear bevel", True))
    panel.save(update_fields=["drawing"])
    assert len(picture_of(panel, {}).panes) == 2
    page = " ".join(text(visitor.get(address(link))).split())
    assert page.count("clear bevel") == 1
    assert "3 pieces, 2 beveled" in page


def test_what_is_all_beveled_says_so_unless_its_name_does(job: Job) -> None:
    panel = job.panels.get()
    panel.drawing = pieces(("clear bevel", True), ("Plate", True), ("Rose", False))
    said = {row.glass: (row.says_beveled, row.says_some) for row in picture_of(panel, {}).legend}
    assert said == {"clear bevel": (False, False), "Plate": (True, False), "Rose": (False, False)}
