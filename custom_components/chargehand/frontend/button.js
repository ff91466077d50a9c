/** Buttons that are switched off without losing the focus, and say why. */

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
