"""A job that can be quoted: a panel that is taken off, priced glass and came, suppliers. All invented."""

from decimal import Decimal

from jobs.actions import Actor, takeoffs
from jobs.models import Account, Came, Glass, Job, Material, OperationKind, Panel, Stage, Studio, Supplier
from tests import cast

# 600 x 900 mm: half red and half blue, 3 m of border, 1.5 m inside, nine joints.
MM2 = 270_000.0


def make_stock() -> None:
    """Glass at 100 a square meter with a quarter lost, came at 12 a stick, solder at 0.01 kg a joint."""
    cast.make_glass()
    kiln = Supplier.objects.create(name="Northgate Glass", days=10)
    lead = Supplier.objects.create(name="Mill Lane Metals", days=5)
    Glass.objects.update(price_m2=Decimal(100), supplier=kiln)
    Came.objects.update(price=Decimal(12), supplier=lead)
    solder = Material.objects.create(
        name="Solder", unit="kg", price=Decimal(30), driver="joint", amount=Decimal("0.01"), supplier=lead
    )
    solder.kinds.add(OperationKind.objects.get(slug="assembly"))
    OperationKind.objects.filter(slug="cutting").update(needs_glass=True)


def make_enquiry(number: str = "0412", *panels: tuple[str, ...]) -> Job:
    """An enquiry with a panel for each tuple of kinds; one of cutting and assembly where none is given."""
    job = cast.make_job(number, stage=Stage.ENQUIRY)
    for place, kinds in enumerate(panels or (("Cutting", "Assembly"),), 1):
        cast.make_panel(job, place, kinds)
    return job


def take_off(panel: Panel, by: Account, *, share: float = 1.0) -> None:
    """Write down the quantities above, or a share of the inner lines."""
    given = takeoffs.Quantities(
        inner=Came.objects.get(inner=True),
        border=Came.objects.get(border=True),
        inner_mm=1500.0 * share,
        border_mm=3000.0,
        joints=9,
        glasses=[(Glass.objects.get(name="Red"), MM2), (Glass.objects.get(name="Blue"), MM2)],
    )
    takeoffs.set_takeoff(panel, given, by=Actor(account=by), at=cast.at(2, "09:00"))


def sixty_an_hour() -> None:
    Studio.objects.update(labor_rate=Decimal(60))
