"""Labels of our own before the camera of a real browser, and in a photo."""

import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect

from labels.shapes import Printer
from labels.straws import Flag, Strip, flag, strip
from tests.journeys.conftest import PHONE, Screen, Station
from tests.labels.simulation import Shot, round_a, taken
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


def round_a_straw(code: str, points_per_mm: float = 9.5) -> Image.Image:
    """A band round a straw of 2.8 mm, in the middle of a large picture, from farther away."""
    printer = Printer(300)
    face = strip(with_code(code), Strip(form="band", length_mm=125), printer)
    shot = Shot(points_per_mm=points_per_mm, turn=3, bend=round_a(2.8))
    seen = taken(replace(face, width=40), printer, shot, np.random.default_rng(1))
    table = Image.new("L", (1920, 1080), 190)
    table.paste(seen, ((table.width - seen.width) // 2, (table.height - seen.height) // 2))
    return table


def filmed(picture: Image.Image, file: Path) -> Path:
    """A film of one still: what the browser takes for a camera (YUV4MPEG2, 4:2:0)."""
    grey = np.asarray(picture.convert("L"), dtype=np.uint8).tobytes()
    neutral = bytes([128]) * (picture.width * picture.height // 2)
    header = f"YUV4MPEG2 W{picture.width} H{picture.height} F30:1 Ip A1:1 C420jpeg\n".encode()
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


#: The browser's own reader as phones have it and the tests' browser does not: it sees what is in
#: `window.inSight`. And every camera that is handed out, to see whether it was switched off.
OWN_READER = """
    window.inSight = [];
    window.BarcodeDetector = class {
      static getSupportedFormats = async () => ["qr_code", "data_matrix"];
      detect = async () => window.inSight.map((rawValue) => ({ rawValue }));
    };
"""
CAMERAS = """
    window.cameras = [];
    const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    navigator.mediaDevices.getUserMedia = async (wanted) => {
      const stream = await ask(wanted);
      window.cameras.push(...stream.getTracks());
      return stream;
    };
"""
ALL_OFF = "window.cameras.every((track) => track.readyState === 'ended')"
TABLE = Image.new("L", (WIDTH, HEIGHT), 150)


@pytest.fixture
def before_a_camera(
    station: Station, film: Callable[[Image.Image], Browser]
) -> Iterator[Callable[..., Screen]]:
    """`before_a_camera(picture, *scripts)`: a vet's tab whose camera sees that picture."""
    opened: list[tuple[BrowserContext, Screen]] = []

    def start(picture: Image.Image, *scripts: str) -> Screen:
        context = film(picture).new_context(viewport=PHONE)
        for script in scripts:
            context.add_init_script(script)
        opened.append((context, Screen(context, station.address)))
        opened[-1][1].sign_in("vet")
        return opened[-1][1]

    yield start
    for context, screen in opened:
        context.close()
        assert screen.complaints == []


def on_the_walk(screen: Screen, station: Station) -> Page:
    """At the tank, the camera on, nothing read yet."""
    screen.open(f"/dose?stallion={station.lantern['id']}")
    page = screen.page
    page.get_by_label("Her name, or a part of it").fill("Brindlewick")
    page.get_by_role("radio", name="Brindlewick").first.check()
    page.get_by_label("Doses").fill("1")
    page.get_by_role("button", name="Show the plan").click()
    page.get_by_role("button", name="Start the walk").click()
    page.get_by_role("button", name="Use the camera").click()
    page.get_by_role("button", name="Camera off").wait_for()
    return page


def planned(station: Station) -> list[str]:
    plan = station.vet.ok(
        "POST", "/withdrawals/plan", {"stallion_id": station.lantern["id"], "doses": 1}
    )
    return list(plan["picks"][0]["straw_codes"])


def test_the_browsers_own_reader_needs_no_network(
    station: Station, before_a_camera: Callable[..., Screen]
) -> None:
    """Straw after straw with the camera on; what is no code of ours is passed over."""
    screen = before_a_camera(TABLE, OWN_READER)
    page = on_the_walk(screen, station)
    first, second = planned(station)[:2]
    page.context.set_offline(True)
    page.evaluate("(code) => { window.inSight = [code, 'https://example.org/'] }", first)
    expect(page.locator("ul.codes li")).to_have_count(1)
    page.evaluate("(code) => { window.inSight = [code] }", second)
    expect(page.locator("ul.codes li")).to_have_count(2)
    expect(page.locator(".camera .hint")).to_contain_text("Hold the symbol")
    page.context.set_offline(False)


def test_what_the_browsers_own_reader_misses_the_service_reads(
    station: Station, before_a_camera: Callable[..., Screen]
) -> None:
    [code] = planned(station)[:1]
    page = on_the_walk(before_a_camera(on_a_table(code), OWN_READER), station)
    expect(page.locator("ul.codes li")).to_have_count(1)


def test_a_strip_on_a_straw_is_read_from_the_middle_of_a_large_picture(
    station: Station, before_a_camera: Callable[..., Screen]
) -> None:
    """Whole, as small as it is sent, it would have too few dots (see `test_reading`)."""
    code = straw_of(station, 2)
    seen = round_a_straw(code)
    screen = before_a_camera(seen)
    screen.open("/find")
    screen.page.get_by_role("button", name="Use the camera").click()
    screen.arrived(f"/straws/{code}")


@pytest.mark.parametrize("leaving", ["button", "Escape", "another page"])
def test_the_camera_is_given_back(before_a_camera: Callable[..., Screen], leaving: str) -> None:
    screen = before_a_camera(TABLE, CAMERAS)
    screen.open("/find")
    page = screen.page
    page.get_by_role("button", name="Use the camera").click()
    page.get_by_role("button", name="Camera off").wait_for()
    assert page.evaluate("window.cameras.length") > 0
    assert not page.evaluate(ALL_OFF)
    if leaving == "button":
        page.get_by_role("button", name="Camera off").click()
    elif leaving == "Escape":
        page.keyboard.press("Escape")
    else:
        screen.open("/")
    for _ in range(50):  # the page lets no script be made of text, so it cannot wait by itself
        if page.evaluate(ALL_OFF):
            break
        page.wait_for_timeout(100)
    assert page.evaluate(ALL_OFF)
    expect(page.locator("video")).to_have_count(0)


def test_a_camera_that_is_lost_says_so(before_a_camera: Callable[..., Screen]) -> None:
    screen = before_a_camera(TABLE, CAMERAS)
    screen.open("/find")
    page = screen.page
    page.get_by_role("button", name="Use the camera").click()
    page.get_by_role("button", name="Camera off").wait_for()
    page.evaluate("window.cameras.forEach((track) => track.dispatchEvent(new Event('ended')))")
    expect(page.get_by_text("The camera has stopped")).to_be_visible()
    expect(page.get_by_role("button", name="Use the camera")).to_be_visible()


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        ("NotAllowedError", "Allow it beside"),
        ("NotFoundError", "has no camera"),
        ("NotReadableError", "Another program"),
        ("AbortError", "does not start"),
    ],
)
def test_a_camera_that_is_refused_says_why_and_a_photo_does(
    station: Station, before_a_camera: Callable[..., Screen], reason: str, words: str
) -> None:
    refuse = f"new DOMException('no', '{reason}')"
    screen = before_a_camera(
        TABLE, f"navigator.mediaDevices.getUserMedia = () => Promise.reject({refuse});"
    )
    screen.open("/find")
    page = screen.page
    page.get_by_role("button", name="Use the camera").click()
    expect(page.get_by_text(words)).to_be_visible()
    faults = Axe().run(page).response["violations"]
    assert [one["id"] for one in faults if one["impact"] in ("serious", "critical")] == []
    photo = io.BytesIO()
    code = straw_of(station, 3)
    round_a_straw(code, points_per_mm=12).save(photo, "JPEG")
    page.locator("input[type=file]").set_input_files(
        {"name": "straw.jpg", "mimeType": "image/jpeg", "buffer": photo.getvalue()}
    )
    screen.arrived(f"/straws/{code}")


def test_a_file_that_is_no_photo_says_so(before_a_camera: Callable[..., Screen]) -> None:
    screen = before_a_camera(
        TABLE, "Object.defineProperty(navigator, 'mediaDevices', {value: undefined})"
    )
    screen.open("/find")
    screen.page.locator("input[type=file]").set_input_files(
        {"name": "notes.jpg", "mimeType": "image/jpeg", "buffer": b"not a picture"}
    )
    expect(screen.page.get_by_text("This photo cannot be opened")).to_be_visible()


def test_a_label_in_sight_counts_once_however_slow_the_looks(
    before_a_camera: Callable[..., Screen],
) -> None:
    """Looks as (milliseconds, codes); what is fresh in each."""
    looks = [
        (0, ["A"]),
        (9_000, ["A", "A", "B"]),
        (9_300, ["B"]),
        (9_600, []),
        (10_900, ["A"]),  # missed twice: still the same
        (11_000, []),
        (11_100, []),
        (11_200, []),  # thrice, but not for long
        (11_300, ["A", "B"]),
        (11_400, []),
        (12_000, []),
        (13_400, []),
        (13_500, ["A"]),  # away for two seconds and three looks
    ]
    fresh = before_a_camera(TABLE).page.evaluate(
        """async (looks) => {
          const { look } = await import("/web/logic/sightings.js");
          let sightings = new Map();
          return looks.map(([at, codes]) => {
            const now = look(sightings, codes, at);
            sightings = now.sightings;
            return now.fresh;
          });
        }""",
        looks,
    )
    assert fresh == [
        *(["A"], ["B"], [], [], [], [], [], []),
        *([], [], [], [], ["A"]),
    ]
