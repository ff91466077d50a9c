"""What axe-core finds wrong with a part of a page (rules of WCAG 2 and good practice, https://dequeuniversity.com/rules/axe)."""

from axe_playwright_python.base import AXE_SCRIPT
from playwright.async_api import Locator

RUN = """async (part) => {
    const { violations } = await axe.run(part, { resultTypes: ['violations'] });
    return violations.flatMap(({ id, impact, nodes }) =>
        nodes.map(({ target, failureSummary }) => `${impact}: ${id}: ${target.flat().at(-1)}: ${failureSummary}`));
}"""


async def findings(part: Locator) -> list[str]:
    """Return each finding as "impact: rule: where: what"; impacts are minor, moderate, serious, critical."""
    await part.page.evaluate(AXE_SCRIPT)
    return list(await part.evaluate(RUN))


def grave(found: list[str]) -> list[str]:
    """Return the serious and critical ones."""
    return [one for one in found if one.startswith(("serious", "critical"))]
