/** Elements made and named in one place. */

/**
 * Make an element known under a name. A page that stays open over an update is given the newer module too: the element that
 * it already has stays until the page is loaded again.
 * @param {string} name
 * @param {CustomElementConstructor} element
 */
export function define(name, element) {
  if (!customElements.get(name)) {
    customElements.define(name, element);
  }
}

/**
 * Make an element with attributes and children.
 * @param {string} tag
 * @param {Record<string, string>} [attributes]
 * @param {...(Node | string)} children
 */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}
