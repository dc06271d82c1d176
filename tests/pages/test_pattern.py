"""The page of a panel's pattern: upload, what is wrong, questions, glass, acceptance, and the takeoff."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from jobs.models import Came, Glass, Job, Panel, Pattern, QuoteSettings, Studio, Takeoff
from tests import cast

PAGE = "/jobs/0412/1/pattern/"
NO_UNITS = cast.LATTICE.replace('width="600mm" height="900mm" ', "")
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="900mm" viewBox="0 0 600 900">'
OPEN_END = HEAD + '<g fill="none"><rect width="600" height="900"/><path d="M100 100L200 300"/></g></svg>'


@pytest.fixture(autouse=True)
def panel(shop: None) -> Panel:
    cast.make_glass()
    return cast.make_panel(cast.make_job())


def text(response: Any) -> str:
    return str(response.content.decode())


def upload(client: Client, drawing: str | bytes = cast.LATTICE, name: str = "hall.svg") -> Any:
    data = drawing if isinstance(drawing, bytes) else drawing.encode()
    return client.post(f"{PAGE}upload/", {"file": SimpleUploadedFile(name, data)})


def do(client: Client, verb: str, version: int = 1, **typed: Any) -> Any:
    prefix = {"glass": "fill"}.get(verb, verb)
    data = {f"{prefix}-{name}": value for name, value in typed.items()}
    return client.post(f"{PAGE}{version}/{verb}/", data)


def came() -> dict[str, int]:
    return {"came": Came.objects.get(inner=True).pk, "border": Came.objects.get(border=True).pk}


# Pictures and words


def test_before_there_is_a_drawing(office_client: Client) -> None:
    page = text(office_client.get(PAGE))
    assert "Upload the drawing" in page
    assert "Nobody has taken it off yet" in page
    panel_page = text(office_client.get("/jobs/0412/1/"))
    assert f'href="{PAGE}"' in panel_page
    assert "Upload a drawing" in panel_page


def test_an_uploaded_drawing_is_shown_with_its_numbers_and_cut_sizes(office_client: Client) -> None:
    answer = upload(office_client)
    assert (answer.status_code, answer["Location"]) == (303, PAGE)
    page = text(office_client.get(PAGE))
    for said in (
        "Nothing is wrong with the drawing",
        "4 pieces",
        "hall.svg",
        "Emil Horn",
        "not accepted yet",
    ):
        assert said in page
    # 298.4 x 448.4 mm, to the sixteenth of an inch.
    assert page.count("11 3/4 × 17 5/8 in") == 4
    assert page.count("<polygon") == 4
    assert 'fill="#a83a45"' in page
    assert "not accepted yet" in text(office_client.get("/jobs/0412/1/"))


def test_what_is_wrong_stands_at_its_place_and_in_words(office_client: Client) -> None:
    Studio.objects.update(units="mm")
    upload(office_client, OPEN_END)
    page = text(office_client.get(PAGE))
    assert page.count('class="fault-mark"') == 2
    assert "This line ends in the open." in page
    assert "100 mm from the left, 100 mm from the top" in page
    # The line itself is drawn as well, though it bounds no piece.
    assert "M100.0 100.0L200.0 300.0" in page


def test_nothing_closes(office_client: Client) -> None:
    upload(office_client, HEAD + '<path fill="none" d="M10 20L600 0"/></svg>')
    page = text(office_client.get(PAGE))
    assert "so there is no piece in it" in page
    assert "There is no piece yet" in page


def test_a_hard_piece_is_hatched_and_named(office_client: Client) -> None:
    upload(office_client, HEAD + '<path fill="#4f78b5" d="M0 0H600L300 20Z"/></svg>')
    page = text(office_client.get(PAGE))
    assert "1 of them hard to cut" in page
    assert 'fill="url(#hatch)"' in page
    assert "sharp" in page


def test_a_page_bears_so_many_pieces_and_shows_all_if_asked(office_client: Client) -> None:
    rows = "".join(
        f'<rect x="{30 * (n % 20)}" y="{60 * (n // 20)}" width="30" height="60" fill="#4f78b5"/>'
        for n in range(300)
    )
    upload(office_client, HEAD + rows + "</svg>")
    assert text(office_client.get(PAGE)).count("<tr>") == 201
    assert text(office_client.get(f"{PAGE}?version=1&pieces=all")).count("<tr>") == 301


LITE = (
    HEAD + '<rect width="600" height="900" fill="#4f78b5"/><rect x="100" y="100" width="200" height="300" '
    'fill="#eeeeee"/><rect x="200" y="200" width="200" height="300" fill="#eeeeee"/></svg>'
)


def test_a_color_may_be_carved_into_the_glass(office_client: Client) -> None:
    Studio.objects.update(units="mm")
    upload(office_client, LITE)
    colors = Pattern.objects.get().measured["fills"]
    plate, carved = colors.index("#4f78b5"), colors.index("#eeeeee")
    typed = {f"glass{plate}": glass("Blue"), f"carved{carved}": "3 mm", f"glass{carved}": ""}
    assert do(office_client, "glass", **typed).status_code == 303
    page = text(office_client.get(PAGE))
    assert "1 piece" in page
    assert page.count("piece-carved") == 2
    assert do(office_client, "accept", hours="").status_code == 303
    numbers = Takeoff.objects.get().numbers
    # Two of 200 x 300 mm that lie on each other by 100 x 200 mm.
    assert numbers["carved_mm2"] == [[3.0, pytest.approx(100_000)]]
    assert numbers["pieces"] == 1
    panel = Panel.objects.get()
    assert [piece.get("carved", False) for piece in panel.drawing["pieces"]] == [False, True, True]
    assert "carved 3 mm deep" in text(office_client.get(PAGE))


def test_not_everything_is_carved(office_client: Client) -> None:
    upload(office_client, LITE)
    refused = do(office_client, "glass", glass0="", carved0="3 mm", glass1="", carved1="3 mm")
    assert refused.status_code == 422
    assert "One color at least is glass" in text(refused)
    refused = do(office_client, "glass", glass0="", carved0="200 mm", glass1=glass("Blue"))
    assert refused.status_code == 422
    assert "deep" in text(refused)


def test_faults_are_said_in_the_units_of_the_studio(office_client: Client) -> None:
    gap = HEAD + '<g fill="none"><rect width="600" height="900"/><path d="M0 100H598"/></g></svg>'
    upload(office_client, gap)
    assert "A gap of 0.08 in" in text(office_client.get(PAGE))
    Studio.objects.update(units="mm")
    assert "A gap of 2.0 mm" in text(office_client.get(PAGE))


def test_versions(office_client: Client) -> None:
    upload(office_client)
    upload(office_client, name="second.svg")
    page = text(office_client.get(PAGE))
    assert "Version 2, second.svg" in page
    assert "Version 1, hall.svg" in page
    old = text(office_client.get(f"{PAGE}?version=1"))
    assert "never accepted" in old
    assert "Accept the pattern" not in old
    assert office_client.get(f"{PAGE}?version=3").status_code == 404
    assert "Version 2" in text(office_client.get(f"{PAGE}?version=x"))


# Upload


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "neither an SVG nor a DXF drawing"),
        (b'<!DOCTYPE s [<!ENTITY a "b">]><svg>&a;</svg>', "declares entities of its own"),
        (b"<svg>" + b"<g>" * 500, "too deep"),
        (b" " * 10_000_001, "larger than 10 MB"),
    ],
)
def test_a_hostile_file_is_refused_with_its_sentence(
    office_client: Client, data: bytes, sentence: str
) -> None:
    answer = upload(office_client, data)
    assert answer.status_code == 422
    assert sentence in text(answer)
    assert not Pattern.objects.exists()


def test_markup_of_the_file_never_comes_back(office_client: Client) -> None:
    bad = cast.LATTICE.replace("#a83a45", "evil&quot;&gt;&lt;script&gt;").replace(
        "</svg>", "<script>evil()</script></svg>"
    )
    assert upload(office_client, bad, name='<img src="evil">.svg').status_code == 303
    page = text(office_client.get(PAGE))
    assert "<script>" not in page
    assert "evil()" not in page
    assert '<img src="evil">' not in page
    assert "Left out" in page


def test_no_file_and_no_panel(office_client: Client) -> None:
    answer = office_client.post(f"{PAGE}upload/")
    assert answer.status_code == 422
    assert "This field is required" in text(answer)
    assert office_client.post("/jobs/0412/9/pattern/upload/").status_code == 404
    assert office_client.get("/jobs/0412/9/pattern/").status_code == 404


def test_a_refused_drawing_leaves_the_one_before(office_client: Client) -> None:
    upload(office_client)
    answer = upload(office_client, b"nothing")
    assert answer.status_code == 422
    assert "Version 1" in text(answer)
    assert '<details class="sheet" id="upload" open>' in text(answer)


def test_a_studio_without_came(office_client: Client) -> None:
    Came.objects.all().delete()
    assert "enter a profile first" in text(upload(office_client))
    assert office_client.get(PAGE).status_code == 200


@pytest.mark.parametrize("address", ["upload/", "1/accept/", "1/take-back/", "1/glass/", "1/answer/"])
def test_wrong_method_and_wrong_person(
    office_client: Client, tablet_client: Client, client: Client, address: str
) -> None:
    upload(office_client)
    assert office_client.get(PAGE + address).status_code == 405
    assert tablet_client.post(PAGE + address).status_code == 403
    assert client.post(PAGE + address)["Location"].startswith("/sign-in/")
    assert office_client.post(PAGE).status_code == 405
    assert Pattern.objects.get().accepted_at is None


def test_no_such_verb_and_no_such_version(office_client: Client) -> None:
    upload(office_client)
    assert do(office_client, "burn").status_code == 404
    assert do(office_client, "accept", 7).status_code == 404


# Questions


def test_units_are_asked_for(office_client: Client) -> None:
    upload(office_client, NO_UNITS)
    page = text(office_client.get(PAGE))
    assert "does not say its units" in page
    assert "First answer what is asked" in page
    assert "How wide the drawing is" in page
    answer = do(office_client, "answer", drawn_width_mm="wide", close_below_mm="", **came())
    assert answer.status_code == 422
    assert 'value="wide"' in text(answer)
    answer = do(office_client, "answer", drawn_width_mm="600 mm", close_below_mm="", **came())
    assert (answer.status_code, answer["Location"]) == (303, f"{PAGE}#questions")
    assert "Nothing is wrong with the drawing" in text(office_client.get(PAGE))


def test_the_scale_is_asked_for_only_where_it_differs(office_client: Client) -> None:
    upload(office_client)
    assert "Which size is right" not in text(office_client.get(PAGE))
    Panel.objects.update(width_mm=635)
    upload(office_client)
    page = text(office_client.get(PAGE))
    assert "Which size is right" in page
    assert "The panel: 25 × 35 7/16 in" in page
    assert "The drawing: 23 5/8 × 35 7/16 in" in page
    do(office_client, "answer", 2, scale="drawing", close_below_mm="", **came())
    page = text(office_client.get(PAGE))
    assert "Nothing is wrong" in page
    # What was answered can be answered otherwise.
    assert "Which size is right" in page


def test_gaps_beyond_what_is_closed_are_refused(office_client: Client) -> None:
    upload(office_client, OPEN_END)
    answer = do(office_client, "answer", close_below_mm="20 mm", **came())
    assert answer.status_code == 422
    assert "Gaps up to 0.39 in can be closed" in text(answer)
    assert 'value="20 mm"' in text(answer)


# Glass and acceptance


def glass(name: str) -> int:
    return Glass.objects.get(name=name).pk


def test_glass_is_told_and_the_pattern_accepted(office_client: Client) -> None:
    upload(office_client)
    typed = {
        "glass0": glass("Clear plate"),
        "beveled0": "on",
        "bevel0": "",
        "glass1": glass("Blue"),
        "bevel1": "1 in",
    }
    answer = do(office_client, "glass", **typed)
    assert (answer.status_code, answer["Location"]) == (303, f"{PAGE}#glass")
    said = Pattern.objects.get().fills["#a83a45"]
    assert said == {"glass": glass("Clear plate"), "beveled": True, "bevel_mm": "25.40"}
    Panel.objects.update(thickness_mm=3)
    assert "Its glass becomes 1/4 in (now 1/8 in)" in text(office_client.get(PAGE))
    assert do(office_client, "accept").status_code == 303
    page = text(office_client.get(PAGE))
    for words in (
        "Pattern 1 is accepted",
        "Bevel, 1 in wide on 1/4 in",
        "9 on each face",
        "Clear plate, beveled",
    ):
        assert words in page
    # 4 x (298.4 + 448.4) mm is 9.8 ft.
    assert "9.8 ft" in page
    panel_page = text(office_client.get("/jobs/0412/1/"))
    assert 'class="piece piece-beveled"' in panel_page
    assert "Takeoff measured from the pattern" in panel_page
    again = do(office_client, "accept")
    assert again.status_code == 422
    assert "This pattern is accepted; upload the drawing again" in text(again)


def test_glass_that_is_not_said(office_client: Client) -> None:
    Glass.objects.filter(name="Red").update(color="#000000")
    upload(office_client)
    assert "choose a glass" in text(office_client.get(PAGE))
    refused = do(office_client, "accept")
    assert refused.status_code == 422
    assert "Say first which glass" in text(refused)
    refused = do(office_client, "glass", glass0="", bevel0="", glass1=glass("Blue"), bevel1="9 m")
    assert refused.status_code == 422
    assert "Say which glass that is, or how deep it is carved" in text(refused)
    refused = do(office_client, "glass", glass0=glass("Red"), bevel0="", glass1=glass("Blue"), bevel1="9 m")
    assert "at most 7 7/8 in wide" in text(refused)
    assert 'value="9 m"' in text(refused)


def test_faults_are_let_pass_only_when_said_so(office_client: Client) -> None:
    upload(office_client, OPEN_END)
    do(office_client, "glass", glass0=glass("Clear plate"), bevel0="")
    refused = do(office_client, "accept")
    assert refused.status_code == 422
    assert "2 faults are still in the drawing" in text(refused)
    assert do(office_client, "accept", anyway="on").status_code == 303
    assert Takeoff.objects.count() == 1


def test_taken_back(office_client: Client) -> None:
    upload(office_client)
    assert do(office_client, "take-back").status_code == 303
    page = text(office_client.get(PAGE))
    assert "Pattern 1 is taken back" in page
    assert "Upload the drawing" in page
    upload(office_client)
    do(office_client, "accept")
    refused = do(office_client, "take-back")
    assert refused.status_code == 422
    assert "upload the drawing again to change it" in text(refused)


def test_a_closed_job(office_client: Client) -> None:
    upload(office_client)
    Job.objects.update(stage="complete")
    assert do(office_client, "accept").status_code == 422
    assert upload(office_client).status_code == 422


# Takeoff by hand

TAKE: dict[str, Any] = {"joints": "22", "curved_edges": "0", "inner_corners": "0", "hard_pieces": "0"}


def take(client: Client, **typed: Any) -> Any:
    cames = came()
    data = TAKE | {"inner": cames["came"], "border": cames["border"]} | typed
    return client.post("/jobs/0412/1/takeoff/", {f"take-{name}": value for name, value in data.items()})


def test_a_takeoff_is_proposed_and_saved_by_hand(office_client: Client) -> None:
    page = text(office_client.get(PAGE))
    assert "proposed from the size and the 10 pieces" in page
    assert 'value="22"' in page
    plate = {"glass0": glass("Clear plate"), "glass0_area": "5.5"}
    bevel = {"bevel0_thick": "1/4 in", "bevel0_wide": "1 in", "bevel0_run": "30"}
    answer = take(office_client, inner_mm="10", border_mm="9.84", **plate, **bevel)
    assert (answer.status_code, answer["Location"]) == (303, f"{PAGE}#takeoff")
    numbers = Takeoff.objects.get().numbers
    # 30 ft and 5.5 sq ft, a foot being 304.8 mm.
    assert numbers["beveled_mm"] == [[6.35, 25.4, 9144.0]]
    assert numbers["glass_mm2"] == {"Clear plate": pytest.approx(5.5 * 304.8**2)}
    page = text(office_client.get(PAGE))
    assert "30.0 ft" in page
    assert "by hand" in page


def test_a_takeoff_in_meters(office_client: Client) -> None:
    Studio.objects.update(units="mm")
    carved = {"carved0_deep": "3", "carved0_area": "0.02"}
    assert take(office_client, inner_mm="4", border_mm="3", **carved).status_code == 303
    numbers = Takeoff.objects.get().numbers
    assert (numbers["inner_mm"], numbers["carved_mm2"]) == (4000, [[3, 20_000]])
    assert "0.020 m²" in text(office_client.get(PAGE))


def test_a_takeoff_that_cannot_be(office_client: Client) -> None:
    for typed, sentence in (
        ({"joints": "many"}, "Enter a whole number"),
        ({"bevel0_run": "30"}, "Say how thick the glass and how wide the bevel is"),
        ({"carved0_area": "1"}, "Say how deep it is carved"),
        ({"glass0_area": "1"}, "Say which glass that is"),
        ({"glass0": glass("Blue"), "glass0_area": "500"}, "more glass than the panel has room for"),
        ({"hard_pieces": "11"}, "more pieces hard to cut than pieces"),
        ({"inner_mm": "-1"}, "greater than or equal to 0"),
    ):
        answer = take(office_client, **typed)
        assert answer.status_code == 422
        assert sentence in text(answer)
        assert "<details open>" in text(answer)
    assert not Takeoff.objects.exists()


def test_the_hours_of_a_takeoff_are_shown_and_given_to_the_work(office_client: Client) -> None:
    address = "/jobs/0412/1/takeoff/hours/"
    refused = office_client.post(address)
    assert refused.status_code == 422
    assert "Nobody has taken this panel off yet" in text(refused)
    take(office_client)
    page = text(office_client.get(PAGE))
    # Cutting has 1:30; by the default rates 45 minutes and 6.3 for each of ten pieces.
    assert "Hours by this takeoff" in page
    assert "<strong>1:48</strong>" in page
    answer = office_client.post(address)
    assert (answer.status_code, answer["Location"]) == (303, f"{PAGE}#takeoff")
    panel = Panel.objects.get()
    assert cast.operation_of(panel, "Cutting").estimate == 108
    assert "Estimated by the takeoff: Cutting" in text(office_client.get(PAGE))
    office_client.post(address)
    assert "Nothing that has not begun had other hours" in text(office_client.get(PAGE))


def test_who_may_give_hours(office_client: Client, tablet_client: Client) -> None:
    assert office_client.get("/jobs/0412/1/takeoff/hours/").status_code == 405
    assert tablet_client.post("/jobs/0412/1/takeoff/hours/").status_code == 403


def test_hours_are_given_with_the_acceptance(office_client: Client) -> None:
    upload(office_client)
    do(office_client, "accept", hours="on")
    assert cast.operation_of(Panel.objects.get(), "Cutting").estimate == 70


def test_who_may_take_off(office_client: Client, tablet_client: Client) -> None:
    assert office_client.get("/jobs/0412/1/takeoff/").status_code == 405
    assert tablet_client.post("/jobs/0412/1/takeoff/").status_code == 403


def test_support_bars_above_the_studio_s_own_limit(office_client: Client) -> None:
    take(office_client)
    assert "support bars" not in text(office_client.get(PAGE))
    # 0.6 x 0.9 m is 0.54 m2.
    settings = QuoteSettings.current()
    settings.bars_above_m2 = 0.5
    settings.save()
    assert "Larger than the studio builds without support bars" in text(office_client.get(PAGE))


def test_queries_do_not_grow_with_colors_and_versions(
    office_client: Client, django_assert_max_num_queries: Any
) -> None:
    shades = "".join(f'<rect x="{n * 20}" width="20" height="900" fill="#0000{n:02x}"/>' for n in range(30))
    for _ in range(3):
        upload(office_client, f"{HEAD}{shades}</svg>")
    with django_assert_max_num_queries(25):
        office_client.get(PAGE)


def test_queries_of_an_accepted_pattern(office_client: Client, django_assert_max_num_queries: Any) -> None:
    upload(office_client)
    do(office_client, "accept")
    with django_assert_max_num_queries(30):
        office_client.get(PAGE)
