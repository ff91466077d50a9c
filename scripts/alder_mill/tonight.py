"""What the demo says of the nights: the one to come, and those that are over."""

from typing import Any

from homeassistant.core import HomeAssistant

from .receipt import print_receipt


def print_tonight(answer: dict[str, Any]) -> None:
    """Print tonight's plan and its receipt."""
    plan = answer["plan"]
    print(f"\nTonight's plan: {plan['why']}")
    print_receipt(
        f"Tonight's charge is on the inverter, {answer['outcome']} in {answer['receipt']['seconds']:.2f} s:",
        answer["receipt"],
    )


def print_nights(hass: HomeAssistant) -> None:
    """Print what came of the nights before."""
    currency = hass.config.currency
    print("\nThe nights before:")
    nights = hass.config_entries.async_entries("chargehand")[0].runtime_data.nights
    for night in nights.nights:
        outcome = night.outcome
        if outcome is None:
            continue
        saved = (
            "saving not known before its day is over"
            if outcome.saving is None
            else f"saved {outcome.saving:.2f} {currency}"
        )
        print(
            f"  {night.evening:%d %b}: planned {night.target_level:.0f} %, reached {outcome.level_reached:.0f} %, {saved}"
        )
    print(f"  {nights.earned:.2f} {currency} in {nights.calculated} nights")
