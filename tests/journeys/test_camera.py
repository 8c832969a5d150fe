"""Labels of our own before the camera of a real browser, and in a photo."""

import io
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, expect

from labels.shapes import Printer
from labels.straws import Flag, flag
from tests.journeys.conftest import PHONE, Screen, Station
from tests.labels.words import picture_of, with_code

WIDTH, HEIGHT = 1280, 720


def on_a_table(code: str) -> Image.Image:
    """A flag on a bench, as a telephone a hand's width away sees it: twelve dots a millimetre."""
    printer = Printer(300)
    label = picture_of(flag(with_code(code), Flag(), printer), printer).convert("L")
    label = label.resize((label.width * 12 * 254 // 3000, label.height * 12 * 254 // 3000))
    table = Image.new("L", (WIDTH, HEIGHT), 150)
    table.paste(label, (300, 260))
    return table.rotate(4, fillcolor=150, resample=Image.Resampling.BICUBIC)


def filmed(picture: Image.Image, file: Path) -> Path:
    """A film of one still: what the browser takes for a camera (YUV4MPEG2, 4:2:0)."""
    grey = np.asarray(picture.convert("L"), dtype=np.uint8).tobytes()
    neutral = bytes([128]) * (WIDTH * HEIGHT // 2)
    header = f"YUV4MPEG2 W{WIDTH} H{HEIGHT} F30:1 Ip A1:1 C420jpeg\n".encode()
    file.write_bytes(header + (b"FRAME\n" + grey + neutral) * 2)
    return file


@pytest.fixture
def film(
    tmp_path: Path, launch: Callable[..., Browser]
) -> Iterator[Callable[[Image.Image], Browser]]:
    """`film(picture)`: a browser whose camera sees that picture."""
    started: list[Browser] = []

    def start(picture: Image.Image) -> Browser:
        file = filmed(picture, tmp_path / "camera.y4m")
        started.append(
            launch(
                "--use-fake-device-for-media-stream",
                "--use-fake-ui-for-media-stream",
                f"--use-file-for-fake-video-capture={file}",
            )
        )
        return started[-1]

    yield start
    for one in started:
        one.close()


def straw_of(station: Station, index: int) -> str:
    [batch] = station.technician.ok("GET", f"/batches?stallion_id={station.lantern['id']}")["items"]
    straws = station.technician.ok("GET", f"/batches/{batch['id']}")["straws"]
    return str(straws[index]["code"])


def test_the_camera_reads_a_label_and_its_page_opens(
    station: Station, film: Callable[[Image.Image], Browser]
) -> None:
    code = straw_of(station, 0)
    context = film(on_a_table(code)).new_context(viewport=PHONE)
    screen = Screen(context, station.address)
    screen.sign_in("technician")
    screen.open("/find")
    screen.page.get_by_role("button", name="Use the camera").click()
    screen.arrived(f"/straws/{code}")
    expect(screen.page.locator("video")).to_have_count(0)
    assert screen.complaints == []
    context.close()


def test_a_vet_withdraws_by_what_the_camera_sees(
    station: Station, film: Callable[[Image.Image], Browser]
) -> None:
    plan = station.vet.ok(
        "POST", "/withdrawals/plan", {"stallion_id": station.lantern["id"], "doses": 1}
    )
    code = plan["picks"][0]["straw_codes"][0]
    context = film(on_a_table(code)).new_context(viewport=PHONE)
    screen = Screen(context, station.address)
    screen.sign_in("vet")
    screen.open(f"/dose?stallion={station.lantern['id']}")
    page = screen.page
    page.get_by_label("Her name, or a part of it").fill("Brindlewick")
    page.get_by_role("radio", name="Brindlewick").first.check()
    page.get_by_label("Doses").fill("1")
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("button", name="Start the walk").click()
    page.get_by_role("button", name="Use the camera").click()
    grouped = f"{code[:3]} {code[3:6]} {code[6:]}"
    expect(page.locator(".scan-done .scan-code").first).to_contain_text(code[:3])
    expect(page.locator("ul.codes li")).to_have_count(1)
    assert grouped.replace(" ", "") in page.locator("ul.codes").inner_text().replace(
        " ", ""
    ).replace("\u00a0", "")
    # In sight all the while, it counts once.
    page.wait_for_timeout(1_500)
    expect(page.locator("ul.codes li")).to_have_count(1)
    page.get_by_role("button", name="Camera off").click()
    expect(page.locator("video")).to_have_count(0)
    assert screen.complaints == []
    context.close()


def test_a_photo_is_read_where_the_browser_gives_no_camera(
    station: Station, browser: Browser
) -> None:
    code = straw_of(station, 1)
    context = browser.new_context(viewport=PHONE)
    context.add_init_script("Object.defineProperty(navigator, 'mediaDevices', {value: undefined})")
    screen = Screen(context, station.address)
    screen.sign_in("technician")
    screen.open("/find")
    photo = io.BytesIO()
    on_a_table(code).save(photo, "JPEG")
    screen.page.locator("input[type=file]").set_input_files(
        {"name": "label.jpg", "mimeType": "image/jpeg", "buffer": photo.getvalue()}
    )
    screen.arrived(f"/straws/{code}")
    blank = io.BytesIO()
    Image.new("L", (300, 300), 140).save(blank, "JPEG")
    screen.open("/find")
    screen.page.locator("input[type=file]").set_input_files(
        {"name": "table.jpg", "mimeType": "image/jpeg", "buffer": blank.getvalue()}
    )
    expect(screen.page.get_by_text("Go nearer")).to_be_visible()
    assert screen.complaints == []
    context.close()
