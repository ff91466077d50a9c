"""What can be wrong with what a plan is asked for. Each text says what to do."""

from datetime import datetime


class PlanningFault(ValueError):
    """A plan cannot be made from what was given. What users can mend has a `key`, and `values` for words of one's own."""

    def __init__(self, text: str, key: str | None = None, **values: str) -> None:
        """Keep all three."""
        super().__init__(text)
        self.key = key
        self.values = values


class BadBattery(PlanningFault):
    """The battery's figures make no battery."""


class BadTariff(PlanningFault):
    """The bands make no tariff."""


class BadHorizon(PlanningFault):
    """The time to plan for is not one that can be planned for."""


class BadForecast(PlanningFault):
    """What is given for load, solar or their scenarios is no amount of energy."""


class BadLimits(PlanningFault):
    """What the inverter is said to hold is nothing to plan with."""


class PriceGap(PlanningFault):
    """Dated prices leave a time without a price."""

    def __init__(self, start: datetime, end: datetime) -> None:
        """Name the gap from an aware moment to another."""
        first, last = f"{start:%Y-%m-%d %H:%M%z}", f"{end:%Y-%m-%d %H:%M%z}"
        super().__init__(
            f"no price from {first} to {last}: give prices that cover the whole horizon, or ask for fewer hours",
            "price_gap",
            start=first,
            end=last,
        )
        self.start = start
        self.end = end
