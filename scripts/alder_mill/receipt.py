"""Tonight's schedule, put on the inverter, and its receipt in words."""

from typing import Any

from homeassistant.core import HomeAssistant

from .home import as_demo

TONIGHT = {
    "charge": [{"start": "01:00", "end": "05:00", "power": 3000, "stop_level": 95}],
    "discharge": [],
    "armed": True,
}


async def put_schedule(hass: HomeAssistant, device_id: str) -> dict[str, Any]:
    """Apply a fixed schedule and return the receipt."""
    return await act(hass, "apply_schedule", device_id, TONIGHT)


async def act(hass: HomeAssistant, action: str, device_id: str, fields: dict[str, Any]) -> dict[str, Any]:
    """Carry out an action of Chargehand's for the user demo, and return its answer."""
    answer = await hass.services.async_call(
        "chargehand",
        action,
        {"device_id": device_id, **fields},
        blocking=True,
        return_response=True,
        context=await as_demo(hass),
    )
    assert answer is not None
    return dict(answer)


def said(value: object) -> str:
    """Return a value of a receipt as people write it."""
    return f"{value:g}" if isinstance(value, float) else str(value)


def print_receipt(heading: str, receipt: dict[str, Any]) -> None:
    """Print the receipt in words; the last line says that it is proven, and how long that took."""
    requests = receipt["requests"]
    print(f"\n{heading}")
    for change in receipt["changes"]:
        print(f"  {change['what'].replace('_', ' '):32} {said(change['was']):>6} -> {said(change['now'])}")
    if not receipt["changes"]:
        print("  nothing to change: it held it already")
    frames = "frame" if requests["writes"] == 1 else "frames"
    print(
        f"  {receipt['registers_written']} registers written in {requests['writes']} {frames}, "
        f"{receipt['registers_read_back']} registers read back and all as wanted."
    )
