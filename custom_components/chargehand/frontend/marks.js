/** Small marks that say how a window stands, besides its outline and colour. Each is drawn within 12 by 12 pixels. */

import { svg } from "./svg.js";

/** @import {Kind} from "./band-windows.js" */

/** @type {Record<Kind, string>} */
const MARKS = {
  // A closed latch.
  held: "M2.5 5.5h7v5.5h-7zM4 5.5v-1.7a2 2 0 0 1 4 0v1.7",
  // A pencil.
  drafted: "M1.5 10.5l.6-2.6 6-6 2 2-6 6zM6.9 3.1l2 2",
  // Crossed out.
  replaced: "M2.5 2.5l7 7M9.5 2.5l-7 7",
  // Somebody.
  elsewhere: "M6 1.5a2.2 2.2 0 1 1 0 4.4a2.2 2.2 0 1 1 0-4.4M1.8 10.8c.3-2.6 1.9-3.7 4.2-3.7s3.9 1.1 4.2 3.7z",
};

/**
 * @param {Kind} kind
 * @param {number} [x] Of its middle.
 * @param {number} [y] Of its middle.
 */
export function mark(kind, x = 6, y = 6) {
  return svg("path", { class: `mark ${kind}`, d: MARKS[kind], transform: `translate(${x - 6} ${y - 6})` });
}
