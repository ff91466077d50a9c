/** SVG elements, and how wide a text is in them. */

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {Record<string, string | number | null>} Attributes */

/**
 * Make an SVG element.
 * @template {keyof SVGElementTagNameMap} T
 * @param {T} tag
 * @param {Attributes} [attributes]
 * @param {...(Node | string)} children
 * @returns {SVGElementTagNameMap[T]}
 */
export function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  change(element, attributes);
  element.append(...children);
  return element;
}

/**
 * Set attributes that are another than before; null takes one away.
 * @param {Element} element
 * @param {Attributes} attributes
 */
export function change(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null) {
      element.removeAttribute(name);
    } else {
      const text = typeof value === "number" ? String(Math.round(value * 10) / 10) : value;
      if (element.getAttribute(name) !== text) {
        element.setAttribute(name, text);
      }
    }
  }
}

/** @type {CanvasRenderingContext2D | null} */
let canvas = null;

/**
 * Return how wide a text is in pixels.
 * @param {string} text
 * @param {string} font As CSS writes it.
 */
export function textWidth(text, font) {
  canvas ??= document.createElement("canvas").getContext("2d");
  if (!canvas) {
    return text.length * 7;
  }
  canvas.font = font;
  return canvas.measureText(text).width;
}
