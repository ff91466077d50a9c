"""What is pressed on the card gets onto the inverter as one commit, and back; the bench says what it holds."""

from playwright.async_api import expect

from tests.bench.remote import Orders
from tests.browser.card import Card
from tests.browser.watching import texts_of, watch
from tests.teasel import LATER_HELD, WANTED, held, registers


async def test_entered_values_are_applied_as_one_commit_that_is_read_back(card: Card, bench: Orders) -> None:
    for name, value in (("Start", "02:10"), ("End", "06:20"), ("Power (W)", "1800"), ("Stop level (%)", "90")):
        await card.enter(name, value)
    assert await held(bench) == WANTED
    asked = len(await bench.journal())
    await watch(card.page, "[aria-current=step]")
    await card.button("Apply").click()
    await expect(card.outcome).to_contain_text("Confirmed")
    assert await held(bench) == LATER_HELD
    assert len([one for one in (await bench.journal())[asked:] if one["function"] in {6, 16}]) == 1
    await expect(card.outcome.get_by_role("row")).to_have_count(4)
    await expect(card.status).to_contain_text("Confirmed")
    assert {"Writing", "Reading back"} <= set(await texts_of(card.page))
    await card.button("Undo").click()
    await expect(card.words()).to_contain_text("01:00–05:00 at 3,000 W to 95 %")
    await expect(card.outcome).to_contain_text("Confirmed")
    assert await held(bench) == WANTED


async def test_tonight_s_plan_is_laid_out_with_its_reason_and_not_yet_applied(card: Card, bench: Orders) -> None:
    await card.button("Plan tonight").click()
    await expect(card.outcome).to_be_visible()
    assert await held(bench) == WANTED


async def test_what_the_inverter_refuses_is_told_and_changes_nothing(card: Card, bench: Orders) -> None:
    await card.enter("Power (W)", "2600")
    # Illegal data value (Modbus Application Protocol V1.1b3, 7).
    await bench.fault("exception", code=3, only="write", count=None)
    await card.button("Apply").click()
    await expect(card.outcome).to_contain_text("The earlier schedule is on the inverter")
    assert await held(bench) == WANTED


async def test_what_another_hand_changed_is_shown_and_put_back(card: Card, bench: Orders) -> None:
    await bench.set(740, registers("03:00", "04:00", 1200, 60))
    await expect(card.button("Put mine back")).to_be_visible()
    await expect(card.all.get_by_role("region", name="Changed elsewhere")).to_contain_text(
        "03:00–04:00 at 1,200 W to 60 %"
    )
    await card.button("Put mine back").click()
    await expect(card.status).to_contain_text("Confirmed")
    assert await held(bench) == WANTED
    await expect(card.button("Put mine back")).to_have_count(0)


async def test_what_another_hand_changed_is_kept(card: Card, bench: Orders) -> None:
    theirs = registers("03:00", "04:00", 1200, 60)
    await bench.set(740, theirs)
    await card.button("Keep theirs").click()
    await expect(card.status).to_contain_text("Confirmed")
    await expect(card.words()).to_contain_text("03:00–04:00 at 1,200 W to 60 %")
    assert await held(bench) == theirs


async def test_a_gateway_that_goes_away_is_told_and_its_return_shown(card: Card, bench: Orders) -> None:
    await card.enter("End", "04:30")
    await bench.gateway(down=True)
    away = card.all.locator("[data-note=away]")
    await expect(away).to_be_visible()
    await expect(card.button("Apply")).to_be_disabled()
    await bench.gateway(down=False)
    await expect(away).to_have_count(0)
    # What was edited before is still there to be applied.
    await card.button("Apply").click()
    await expect(card.outcome).to_contain_text("Confirmed")
    assert await held(bench) == registers("01:00", "04:30", 3000, 95)
