/** The line above the picture: what is shown in which colour, and its value now or where the pointer is. */

import { mark } from "./marks.js";
import { make } from "./elements.js";
import { entries, readMoment } from "./read-out.js";
import { svg } from "./svg.js";

/** @import {View} from "./band-view.js" */
/** @import {Kind} from "./band-windows.js" */

/** @type {Kind[]} */
const KINDS = ["held", "drafted", "replaced", "elsewhere"];

/**
 * Show a moment's values.
 * @param {Element} bar
 * @param {View} view
 * @param {number | null} at null for now.
 */
export function showMoment(bar, view, at) {
  const moment = readMoment(view, at ?? view.now);
  const time = at === null ? view.texts.t("band_at_now") : view.clock.timeAndDay(at);
  const sort = moment.expected ? [make("span", { class: "sort" }, view.texts.t("band_expected"))] : [];
  bar.replaceChildren(
    make("div", { class: "moment" }, time, ...sort),
    ...entries(view, moment).map(({ key, name, value }) =>
      make("div", { class: `entry ${key}` }, make("span", { class: "name" }, name), make("span", { class: "amount" }, value)),
    ),
  );
}

/**
 * Show what the windows' marks and outlines mean; only those that are there.
 * @param {Element} place
 * @param {View} view
 */
export function showKinds(place, { vessels, texts }) {
  const shown = KINDS.filter((kind) => vessels.some((vessel) => vessel.kind === kind));
  place.replaceChildren(
    ...shown.map((kind) => {
      const outline = svg("path", { class: `sample ${kind}`, d: "M1 1.5V13H25V1.5" });
      const picture = svg("svg", { viewBox: "0 0 26 14", width: 26, height: 14, "aria-hidden": "true" }, outline, mark(kind, 13, 6));
      return make("span", { class: "kind" }, /** @type {Node} */ (picture), texts.t(`band_kind_${kind}`));
    }),
  );
}
