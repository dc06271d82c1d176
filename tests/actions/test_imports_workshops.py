"""Jobs read in for one of several workshops: by a column, for all of the list, or not at all."""

import pytest

from jobs.actions import Actor
from jobs.actions.imports import ImportRefused, import_jobs
from jobs.models import Job, Workshop
from tests.cast import at
from tests.workshops import make_second

HEAD = "job,title,customer,panel,width,height,route,workshop"
NOW = at(2)


def lines(*rows: str, head: str = HEAD) -> bytes:
    return "\n".join((head, *rows)).encode()


def faults(data: bytes, workshop: Workshop | None = None) -> list[str]:
    with pytest.raises(ImportRefused) as refused:
        import_jobs(data, workshop, by=Actor(), at=NOW)
    assert not Job.objects.exists()
    return [str(fault) for fault in refused.value.faults]


@pytest.fixture
def mill(shop: None) -> Workshop:
    return make_second()


def test_a_column_names_the_workshop_of_each_job(mill: Workshop) -> None:
    data = lines(
        "A1,Hall,Anna Berg,Left,600 mm,900 mm,Beveled window,mill street",
        "A1,,,Right,600 mm,900 mm,Beveled window,",
        "A2,Porch,Anna Berg,Left,600 mm,900 mm,Beveled window,",
    )
    first, second = import_jobs(data, by=Actor(), at=NOW)
    assert (first.workshop.name, second.workshop.name) == ("Mill Street", "Lakeside")
    assert first.operations.filter(kind__name="Cutting Mill Street").count() == 2


def test_all_of_a_list_are_of_the_workshop_given(mill: Workshop) -> None:
    data = lines("A1,Hall,Anna Berg,Left,600 mm,900 mm", head="job,title,customer,panel,width,height")
    (job,) = import_jobs(data, mill, by=Actor(), at=NOW)
    assert job.workshop == mill


def test_no_such_workshop_is_named_by_its_line(mill: Workshop) -> None:
    row = "A1,Hall,Anna Berg,Left,600 mm,900 mm,,Elsewhere"
    assert faults(lines(row)) == ["Line 2: There is no workshop called “Elsewhere” for you."]
    # Whoever is bound to one workshop enters nothing for another.
    row = "A1,Hall,Anna Berg,Left,600 mm,900 mm,,Lakeside"
    assert faults(lines(row), mill) == ["Line 2: There is no workshop called “Lakeside” for you."]


def test_two_workshops_of_one_job_contradict_each_other(mill: Workshop) -> None:
    data = lines("A1,Hall,Anna Berg,Left,600 mm,900 mm,,Mill Street", "A1,,,Right,600 mm,900 mm,,Lakeside")
    assert faults(data) == ["Line 3: Job A1 is of another workshop on line 2."]


def test_with_one_workshop_there_is_no_such_column(shop: None) -> None:
    row = "A1,Hall,Anna Berg,Left,600 mm,900 mm,,Lakeside"
    assert faults(lines(row)) == ["Line 1: No column is called “workshop”."]
