"""What comes and goes on a page too quickly to be looked for: kept by the page itself."""

from playwright.async_api import Page

WATCH = """(selector) => {
    window.seen = [];
    const look = (root) => {
        for (const one of root.querySelectorAll(selector)) window.seen.push(one.textContent);
        for (const one of root.querySelectorAll('*')) if (one.shadowRoot) look(one.shadowRoot);
    };
    const all = (root, then) => {
        then(root);
        for (const one of root.querySelectorAll('*')) if (one.shadowRoot) all(one.shadowRoot, then);
    };
    const card = deepest(document);
    all(card.shadowRoot, (root) => new MutationObserver(() => look(card.shadowRoot))
        .observe(root, { subtree: true, childList: true, attributes: true, characterData: true }));
    function deepest(root) {
        const here = root.querySelector('chargehand-day');
        if (here) return here;
        for (const one of root.querySelectorAll('*')) {
            const found = one.shadowRoot && deepest(one.shadowRoot);
            if (found) return found;
        }
        return null;
    }
}"""


async def watch(page: Page, selector: str) -> None:
    """From now on keep the text of every element of the card that the selector finds, whenever the card changes."""
    await page.evaluate(WATCH, selector)


async def texts_of(page: Page) -> list[str]:
    """Return the texts kept since `watch`."""
    return list(await page.evaluate("window.seen"))
