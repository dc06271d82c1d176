"""Lists of jobs: every fault by its line, and all or nothing."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.actions import Actor
from jobs.actions.imports import LARGEST_BYTES, Fault, ImportRefused, import_jobs, read_list, template_list
from jobs.models import Account, Customer, Job, Operation, Panel, Studio
from tests import cast

NOW = cast.at(3)
# The rows are put back after each example, and a busy machine is no fault.
QUIET = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
HEAD = "job,title,customer,panel,width,height"
FULL = HEAD + ",thickness,pieces,copies,route,wanted_by,hours: cutting"


def take(text: str | bytes, lead: Account) -> list[Job]:
    data = text.encode() if isinstance(text, str) else text
    return import_jobs(data, by=Actor(lead), at=NOW)


def faults(text: str | bytes, lead: Account) -> list[str]:
    with pytest.raises(ImportRefused) as refused:
        take(text, lead)
    assert not Job.objects.exists()
    assert not Customer.objects.filter(name="Alder House").exists()
    return [str(fault) for fault in refused.value.faults]


def test_takes_jobs_and_panels(lead: Account) -> None:
    made = take(
        f"{FULL}\n"
        '7,Hall,Alder House,Left,"24 1/2 in",36 in,1/4 in,20,2,Beveled window,2026-06-01,3:30\n'
        "7,,,Right,622 mm,914 mm,,,,,,\n"
        "8,Porch,Alder House,Light,10,20,,,,Beveled window,,\n",
        lead,
    )
    assert [job.number for job in made] == ["7", "8"]
    left, right = made[0].panels.all()
    assert (left.width_mm, left.height_mm, left.thickness_mm) == (
        Decimal("622.30"),
        Decimal("914.40"),
        Decimal("6.35"),
    )
    assert (left.pieces, left.copies, made[0].wanted_by) == (20, 2, date(2026, 6, 1))
    assert cast.operation_of(left, "Cutting").estimate == 210
    assert cast.operation_of(left, "Assembly").estimate == 480
    assert (right.width_mm, right.operations.count()) == (Decimal("622"), 0)
    # A bare number is in the studio's unit, here inches.
    assert made[1].panels.get().width_mm == Decimal("254.00")
    assert Customer.objects.filter(name="Alder House").count() == 1


def test_semicolons_a_mark_at_the_start_and_lines_of_other_systems(lead: Account) -> None:
    text = HEAD.replace(",", ";") + "\r\n7;Hall;Alder House;Left;24,5 in;36 in\r\n\r\n"
    made = take(b"\xef\xbb\xbf" + text.encode(), lead)
    assert made[0].panels.get().width_mm == Decimal("622.30")


def test_text_that_looks_like_a_formula_stays_text(lead: Account) -> None:
    take(f"{HEAD}\n7,=1+1,@Alder,+Left,24 in,36 in\n", lead)
    job = Job.objects.get()
    assert (job.title, job.customer.name, job.panels.get().name) == ("=1+1", "@Alder", "+Left")


def test_every_fault_by_its_line(lead: Account) -> None:
    found = faults(
        f"{FULL}\n"
        "7,Hall,Alder House,Left,24 in,36 in,,,,,,\n"
        "8,,Alder House,Left,wide,36 in,,x,0,Leaded dome,soon,\n"
        ",Porch,Alder House,Left,24 in,36 in,,,,Beveled window,,much\n"
        "9,Bath,Alder House,Left,24 in,36 in,,,,,,2:00\n",
        lead,
    )
    assert found == [
        "Line 3: “soon” is not a day; write it as 2026-03-31.",
        "Line 3: Say what the job is, in at most 120 letters.",
        "Line 3: There is no route called “Leaded dome”.",
        "Line 3: Width: “wide” is not a length; type one such as 24 1/2 in or 622 mm.",
        "Line 3: Pieces: “x” is not a whole number.",
        "Line 4: A job number has at most 20 letters, figures, hyphens and full stops, a letter or figure first.",
        "Line 4: Hours of Cutting: “much” is not an amount of time; type hours, such as 4:30 or 4.5.",
        "Line 5: A panel without a route has no Cutting, so it can have no hours.",
    ]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("0412,Hall,Alder House,Left,24 in,36 in", "There is a job 0412 already"),
        ("7,Hall,Alder House,,24 in,36 in", "A panel needs a name"),
        ("7,Hall,,Left,24 in,36 in", "Say whom it is for"),
        ("7,Hall,Alder House,Left,0,36 in", "more than nothing"),
        ("7,Hall,Alder House,Left,24 in,90 m", "longer than 20 m"),
        ("7,Hall,Alder House,Left,24 in,36 in,more", "7 cells for 6 columns"),
        ("7,Hall,Alder House,Left,24 in", "Height: Type a length"),
        ("new,Hall,Alder House,Left,24 in,36 in", "A job number has"),
    ],
)
def test_faults_of_a_line(lead: Account, line: str, sentence: str) -> None:
    cast.make_job("0412")
    with pytest.raises(ImportRefused) as refused:
        take(f"{HEAD}\n6,Hall,Alder House,Left,24 in,36 in\n{line}\n", lead)
    assert [fault.line for fault in refused.value.faults] == [3]
    assert sentence in refused.value.faults[0].sentence
    assert Job.objects.count() == 1


@pytest.mark.parametrize(
    ("second", "sentence"),
    [
        ("7,Other,,Right,24 in,36 in", "The title of job 7 is another one on line 2."),
        ("7,,Other,Right,24 in,36 in", "The customer of job 7 is another one on line 2."),
        ("7,,,left,24 in,36 in", "Job 7 has two panels called left."),
    ],
)
def test_lines_of_one_job_may_not_contradict(lead: Account, second: str, sentence: str) -> None:
    assert faults(f"{HEAD}\n7,Hall,Alder House,Left,24 in,36 in\n{second}\n", lead) == [f"Line 3: {sentence}"]


def test_another_day_for_one_job(lead: Account) -> None:
    head = HEAD + ",wanted_by"
    text = f"{head}\n7,Hall,A,Left,9,9,2026-06-01\n7,,,Right,9,9,2026-06-02\n"
    assert faults(text, lead) == ["Line 3: Job 7 is wanted by another day on line 2."]


@pytest.mark.parametrize(
    ("data", "line", "sentence"),
    [
        (b"", 0, "The list is empty"),
        (b" \n \n", 0, "The list is empty"),
        (b";;\n", 0, "The list is empty"),
        (HEAD.encode(), 0, "There is no job in the list"),
        (b"job,title\n", 1, "These columns are missing: customer, panel, width, height"),
        (f"{HEAD},job\n".encode(), 1, "two columns called “job”"),
        (f"{HEAD},color\n".encode(), 1, "No column is called “color”"),
        (f"{HEAD},hours: magic\n".encode(), 1, "no kind of work called “magic”"),
        (f"{HEAD}\n7,Hall\0,A,L,9,9\n".encode(), 2, "NUL"),
        (f"{HEAD}\n7,H\xe4ll,A,L,9,9\n".encode("latin-1"), 2, "not text in UTF-8"),
        (f'{HEAD}\n7,"Hall,A,L,9,9\n'.encode(), 2, "cannot be read"),
        (b"x" * (LARGEST_BYTES + 1), 0, "larger than 2 MB"),
        (f"{HEAD}\n".encode() + b"7,H,A,L,9,9\n" * 5001, 5002, "more than 5000 lines"),
    ],
)
def test_lists_that_cannot_be_read(lead: Account, data: bytes, line: int, sentence: str) -> None:
    with pytest.raises(ImportRefused) as refused:
        take(data, lead)
    assert refused.value.faults[0].line == line
    assert sentence in refused.value.faults[0].sentence


def test_lines_are_counted_as_an_editor_counts_them(lead: Account) -> None:
    text = f'{HEAD}\n7,"Hall\nwindow",A,Left,9,9\n\n8,,A,Left,9,9\n'
    assert faults(text, lead)[0].startswith("Line 5: ")


def test_a_fault_in_making_takes_everything_back(lead: Account) -> None:
    Operation.objects.all().delete()
    text = f"{FULL}\n7,Hall,Alder House,Left,9,9,,20000,500,Beveled window,,\n"
    assert "more than anybody can work" in faults(text, lead)[0]


def test_millimeters_where_the_studio_counts_so(lead: Account) -> None:
    Studio.objects.update(units="mm")
    assert take(f"{HEAD}\n7,Hall,A,Left,622,914\n", lead)[0].panels.get().width_mm == 622


def test_the_template_can_be_read_in(lead: Account) -> None:
    jobs = take(template_list(), lead)
    assert [job.panels.count() for job in jobs] == [2]


def test_command(lead: Account, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(f"{HEAD}\n7,Hall,A,Left,9,9\n")
    bad.write_text(f"{HEAD}\n8,Hall,A,Left,9,x\n9,Hall,A,Left,9,9\n")
    call_command("import_jobs", str(good))
    assert capsys.readouterr().out == "1 jobs with 1 panels.\n"
    with pytest.raises(SystemExit) as ended:
        call_command("import_jobs", str(bad))
    assert ended.value.code == 1
    assert capsys.readouterr().err.splitlines() == [
        "Line 2: Height: “x” is not a length; type one such as 24 1/2 in or 622 mm.",
        "Nothing was taken: 1 line has faults.",
    ]
    assert Job.objects.count() == 1
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("import_jobs", str(tmp_path / "none.csv"))
    with pytest.raises(CommandError, match="Name the file"):
        call_command("import_jobs")
    call_command("import_jobs", template=True)
    assert capsys.readouterr().out.startswith("job,title,customer,panel,width,height")


cells = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["7", "24 in", "Alder House", "Beveled window", '"', ";", "\r", "\n", "=1", "9" * 30, "½ in", "²"]
    ),
)


@settings(max_examples=150, deadline=None, suppress_health_check=QUIET)
@given(
    rows=st.lists(st.lists(cells, max_size=13), max_size=6), head=st.booleans(), mark=st.sampled_from(",;")
)
def test_any_text_is_read_or_refused(shop: None, rows: list, head: bool, mark: str) -> None:
    text = "\n".join(mark.join(row) for row in ([FULL.split(",")] if head else []) + rows)
    drafts, found = read_list(text.encode("utf-8", "surrogatepass"))
    assert drafts or found
    assert all(isinstance(fault, Fault) and fault.sentence and fault.line >= 0 for fault in found)


@settings(max_examples=40, deadline=None, suppress_health_check=QUIET)
@given(data=st.binary(max_size=300), column=st.sampled_from(range(12)), cell=cells)
def test_nothing_is_half_written(lead: Account, data: bytes, column: int, cell: str) -> None:
    good = ["7", "Hall", "Parish of the Two Rivers", "Left", "9", "9", "", "1", "1", "Beveled window", "", ""]
    bad = [*good]
    bad[0], bad[column] = "8", cell
    text = "\n".join([FULL, ",".join(good), ",".join(bad)]).encode("utf-8", "surrogatepass")
    for sent in (text, data):
        before = Job.objects.count(), Panel.objects.count()
        try:
            made = import_jobs(sent, by=Actor(lead), at=NOW)
        except ImportRefused as refused:
            assert refused.faults
            assert (Job.objects.count(), Panel.objects.count()) == before
        else:
            assert made
            Operation.objects.all().delete()
            Panel.objects.all().delete()
            Job.objects.all().delete()
