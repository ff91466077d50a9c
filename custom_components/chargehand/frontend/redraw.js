/** A place whose content is only made anew when it is to show something else, so that nothing there loses the focus. */

export class Place {
  /** @type {string | null} */
  #shown = null;

  /** @param {HTMLElement} element */
  constructor(element) {
    this.element = element;
    element.hidden = true;
  }

  /**
   * Show what `make` returns, unless it is shown already; nothing for null.
   * @param {unknown} what What decides how it looks, as JSON data; null for nothing.
   * @param {() => (Node | string)[]} make
   */
  show(what, make) {
    const shown = JSON.stringify(what);
    if (shown === this.#shown) {
      return false;
    }
    this.#shown = shown;
    this.element.hidden = what === null;
    this.element.replaceChildren(...(what === null ? [] : make()));
    return true;
  }
}

/**
 * Make a button.
 * @param {string} className
 * @param {string} text
 * @param {() => void} pressed
 */
export function button(className, text, pressed) {
  const element = document.createElement("button");
  element.type = "button";
  element.className = className;
  element.textContent = text;
  element.addEventListener("click", () => {
    // A button that is switched off keeps the focus, and its reason is read out with it.
    if (element.getAttribute("aria-disabled") !== "true") {
      pressed();
    }
  });
  return element;
}

/**
 * Switch a button on or off, and name the element that says why.
 * @param {HTMLElement} element
 * @param {boolean} off
 * @param {string} [why] The id of the reason.
 */
export function switchOff(element, off, why) {
  element.setAttribute("aria-disabled", String(off));
  if (off && why) {
    element.setAttribute("aria-describedby", why);
  } else {
    element.removeAttribute("aria-describedby");
  }
}
