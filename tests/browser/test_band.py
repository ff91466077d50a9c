"""The picture alone on a page: where it puts things, how it is read by keys, and that a drag leaves its handles where they are."""

import json
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from playwright.async_api import Browser, Page, Route

from custom_components import chargehand

HERE = Path(chargehand.__file__).parent
NOW = datetime(2026, 10, 24, 21, tzinfo=UTC)

PAGE = """<!doctype html><meta charset="utf-8"><style>body { margin: 0 }</style>
<div style="container-type: inline-size"><chargehand-band></chargehand-band></div>
<script type="module">
  import "/day-band.js";
  import { HouseClock } from "/house-clock.js";
  import { Texts } from "/texts.js";
  const texts = (await (await fetch("/en.json")).json()).config_panel.day;
  const filled = (key, values = {}) =>
    texts[key.split(".").at(-1)].replace(/\\{(\\w+)\\}/g, (_, name) => values[name]);
  const locale = { language: "en-GB", time_format: "language", number_format: "language" };
  window.band = document.querySelector("chargehand-band");
  window.frame = () => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  window.show = async (day) => {
    Object.assign(band, { texts: new Texts(filled, locale), clock: new HouseClock(day.clock, locale), editable: true, day });
    await frame();
  };
  window.part = (handle) => band.shadowRoot.querySelector(`[data-handle="${handle}"][tabindex="0"]`);
</script>"""


def window(**changes: Any) -> dict[str, Any]:
    return {"number": 1, "start": "02:30", "end": "04:30", "stop_level": 80, **changes}


def occurrence(**changes: Any) -> dict[str, Any]:
    times = {"start": "2026-10-25T02:30:00Z", "end": "2026-10-25T04:30:00Z"}
    return {"side": "charge", "number": 1, **times, "stop_level": 80, "power_kw": 2, **changes}


def day(steps: int = 32, minutes: int = 15) -> dict[str, Any]:
    """Return the day on which Europe/London turns its clocks back at 01:00 UTC: 02:00 there becomes 01:00."""
    range_ = {"min": 10, "max": 100, "step": 1}
    side = {"count": 3, "stop_level": range_, "limit": None}
    course = {"start": "2026-10-24T21:00:00Z", "step_minutes": minutes, "level": [60.0] * steps, "low": [50.0] * steps}
    return {
        "inverter": {"name": "Burdock B3", "available": True, "controls": True},
        "limits": {"step_minutes": 1, "midnight": True, "charge": side, "discharge": side},
        "clock": {
            "zone": "Europe/London",
            "segments": [
                {"from": "2026-10-24T13:00:00Z", "offset_minutes": 60},
                {"from": "2026-10-25T01:00:00Z", "offset_minutes": 0},
            ],
        },
        "band": {"start": "2026-10-24T13:00:00Z", "end": "2026-10-26T00:00:00Z"},
        "held": {"charge": [window()], "discharge": [], "armed": True},
        "draft": None,
        "acting": {"held": [occurrence()], "draft": None},
        "prices": [{"start": "2026-10-24T13:00:00Z", "end": "2026-10-26T00:00:00Z", "buy": 0.25, "sell": None}],
        "past": {
            "start": "2026-10-24T13:00:00Z",
            "step_minutes": minutes,
            "level": [40.0] * steps,
            "solar_kw": [1.5] * steps,
            "load_kw": [0.4] * steps,
        },
        "expected": {**course, "high": [70.0] * steps, "solar_kw": [0.0] * steps, "load_kw": [0.6] * steps},
        "foreign": None,
        "currency": "GBP",
    }


async def serve(route: Route) -> None:
    name = route.request.url.rpartition("/")[2]
    if name == "page":
        await route.fulfill(body=PAGE, content_type="text/html")
    elif name == "en.json":
        await route.fulfill(path=HERE / "translations" / name)
    elif (HERE / "frontend" / name).is_file():
        await route.fulfill(path=HERE / "frontend" / name, content_type="text/javascript")
    else:
        await route.fulfill(status=404)


@pytest_asyncio.fixture(loop_scope="session")
async def picture(browser: Browser) -> AsyncIterator[Page]:
    """A page with the picture, in the evening before the clocks go back."""
    context = await browser.new_context(viewport={"width": 1000, "height": 700})
    page = await context.new_page()
    await page.clock.set_fixed_time(NOW)
    await page.route("**/*", serve)
    await page.goto("http://picture.test/page")
    await page.wait_for_function("Boolean(window.show)")
    await page.evaluate("show", day())
    yield page
    await context.close()


async def test_handles_stand_where_the_picture_says_that_their_times_and_level_are(picture: Page) -> None:
    places = await picture.evaluate("""() => {
      const middle = (handle) => {
        const box = part(handle).querySelector(".knob").getBoundingClientRect();
        return [box.x + box.width / 2, box.y + box.height / 2];
      };
      const [start, end, lid] = ["start", "end", "lid"].map(middle);
      return [band.momentAt(start[0]), band.momentAt(end[0]), band.levelAt(lid[1])];
    }""")
    wanted = [datetime(2026, 10, 25, hour, 30, tzinfo=UTC).timestamp() * 1000 for hour in (2, 4)]
    # A pixel is about two and a half minutes wide; places are written in tenths of one.
    assert places[:2] == pytest.approx(wanted, abs=30_000)
    assert places[2] == pytest.approx(80, abs=0.1)


async def test_the_hour_that_comes_twice_is_on_the_axis_twice(picture: Page) -> None:
    await picture.set_viewport_size({"width": 2600, "height": 700})
    await picture.wait_for_function("band.shadowRoot.querySelectorAll('.hour').length > 30")
    hours = await picture.evaluate("[...band.shadowRoot.querySelectorAll('.hour')].map((one) => one.textContent)")
    midnight = hours.index("00:00")
    assert hours[midnight : midnight + 4] == ["00:00", "01:00", "01:00", "02:00"]


async def test_a_moment_is_read_by_keys(picture: Page) -> None:
    field = "band.shadowRoot.querySelector('.field')"
    await picture.evaluate(f"{field}.focus()")
    before = await picture.evaluate(f"{field}.getAttribute('aria-valuetext')")
    assert before == "22:00, Price £0.25, Battery 40 %, Solar 1.5 kW, House 0.4 kW"
    await picture.keyboard.press("ArrowRight")
    await picture.keyboard.press("ArrowRight")
    after = await picture.evaluate(f"{field}.getAttribute('aria-valuetext')")
    assert after == "22:30, expected, Price £0.25, Battery 60 % (50–70), Solar 0 kW, House 0.6 kW"
    await picture.keyboard.press("Escape")
    assert await picture.evaluate(f"{field}.getAttribute('aria-valuetext')") == before


async def test_a_handle_keeps_the_focus_and_stays_the_same_element_while_its_window_moves(picture: Page) -> None:
    await picture.evaluate("() => { window.held = part('start'); held.focus(); }")
    working = {
        "charge": [window(start="03:00")],
        "discharge": [],
        "acting": [occurrence(start="2026-10-25T03:00:00Z")],
        "course": None,
        "kind": "working",
    }
    await picture.evaluate("async (working) => { band.working = working; await frame(); }", working)
    assert await picture.evaluate("band.shadowRoot.activeElement === held && part('start') === held")
    assert await picture.evaluate("held.getAttribute('aria-valuetext')") == "Sunday, 03:00"
    kinds = "[...band.shadowRoot.querySelectorAll('.vessel')].map((one) => one.getAttribute('class'))"
    assert await picture.evaluate(kinds) == ["vessel charge replaced", "vessel charge drafted"]


async def test_a_week_of_data_takes_no_more_elements_than_a_day(picture: Page) -> None:
    count = "band.shadowRoot.querySelectorAll('*').length"
    before = await picture.evaluate(count)
    await picture.evaluate("show", day(2016, 5))
    assert await picture.evaluate(count) == before


@pytest.mark.parametrize("width", [320, 360, 560, 800, 1600])
async def test_no_hour_covers_another_and_now_is_in_sight(picture: Page, width: int) -> None:
    await picture.set_viewport_size({"width": width, "height": 700})
    await picture.evaluate(
        "async (wanted) => { band.parentElement.style.width = `${wanted}px`; await frame(); await frame(); }", width
    )
    boxes = await picture.evaluate("""() => [...band.shadowRoot.querySelectorAll(".hour")].map((one) => {
      const { left, right } = one.getBoundingClientRect();
      return [left, right];
    })""")
    assert len(boxes) > 3
    assert all(after[0] > before[1] for before, after in pairwise(boxes))
    line, frame = [
        json.loads(
            await picture.evaluate(f"JSON.stringify(band.shadowRoot.querySelector('{name}').getBoundingClientRect())")
        )
        for name in (".now-line", ".scroller")
    ]
    assert frame["left"] < line["left"] < frame["right"]
    if width < 500:  # It is scrolled: most of what is in sight is tonight.
        assert line["left"] - frame["left"] < (frame["right"] - frame["left"]) / 3
    assert await picture.evaluate("document.documentElement.scrollWidth <= innerWidth")


async def test_a_day_of_which_nothing_is_known_is_drawn_too(picture: Page) -> None:
    empty = {**day(0), "prices": [], "expected": None, "held": None, "acting": {"held": [], "draft": None}}
    await picture.evaluate("show", empty)
    bar = await picture.evaluate("band.shadowRoot.querySelector('.bar').textContent")
    assert bar == "NowBattery–"
