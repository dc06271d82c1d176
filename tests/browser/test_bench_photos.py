"""Photos at a bench in a browser: taken with the line, and without it, where they wait on the tablet."""

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from jobs.models import Operation, Photo, Tap
from tests import cast
from tests.bench_page.test_bench import Clock
from tests.bench_page.test_bench import clock as clock
from tests.browser.test_offline import all_sent, press, wait_until_acknowledged
from tests.browser.test_offline import beveling as beveling
from tests.browser.test_offline import page as page
from tests.browser.test_offline import panel as panel
from tests.photos import photo_bytes

pytestmark = pytest.mark.django_db(transaction=True)


def take(page: Page, caption: str, data: bytes | None = None) -> None:
    page.locator(".work summary", has_text="hoto").first.tap()
    chosen: Any = {"name": "1.jpg", "mimeType": "image/jpeg", "buffer": data or photo_bytes(800, 600)}
    page.get_by_label("Photo", exact=True).first.set_input_files(chosen)
    page.get_by_label("What it shows").first.fill(caption)
    page.get_by_role("button", name="Keep the photo").first.tap()


def test_photos_with_and_without_the_line(page: Page, beveling: Operation, clock: Clock) -> None:
    take(page, "The first bevel")
    expect(page.locator(".work summary", has_text="1 photo")).to_be_visible()
    page.context.set_offline(True)
    press(page, "Start")
    expect(page.locator("#outbox")).to_contain_text("1 tap waits to be sent")
    page.get_by_role("link", name="Bench list").tap()
    expect(page.locator("#outbox")).to_contain_text("That needs the studio’s computer")
    take(page, "The second")
    press(page, "+1")
    expect(page.locator("#outbox")).to_contain_text("3 taps wait to be sent")
    expect(page.locator("#outbox")).to_contain_text("The second")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("3 taps wait to be sent")
    assert Photo.objects.count() == 1
    page.context.set_offline(False)
    wait_until_acknowledged(page)
    all_sent(page)
    assert [photo.caption for photo in Photo.objects.order_by("pk")] == ["The first bevel", "The second"]
    assert {photo.person for photo in Photo.objects.all()} == {cast.person("Mara")}
    assert Photo.objects.last().width == 800
    assert Tap.objects.count() == 4
    page.context.set_offline(True)
    take(page, "None", b"GIF89a")
    expect(page.locator("#outbox")).to_contain_text("1 tap waits to be sent")
    page.context.set_offline(False)
    expect(page.locator(".outbox-refused li")).to_contain_text("JPEG, PNG or WebP")
    page.locator(".outbox-refused").get_by_role("button", name="I have read it").tap()
    all_sent(page)
