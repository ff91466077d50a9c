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
