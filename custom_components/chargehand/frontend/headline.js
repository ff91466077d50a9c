/** What is shown, the inverter's windows or a draft, and what it would cost beside what is held. */

import { make } from "./elements.js";
import { Place } from "./place.js";
import { askerOf } from "./window-words.js";

/** @import {Course} from "./types.js" */
/** @import {View} from "./view.js" */

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
/** Half a penny: less is not named. */
const LEAST_SHOWN = 0.005;

export class Headline {
  #title = new Place(make("p", { class: "title" }));
  #cost = new Place(make("p", { class: "cost" }));
  element = make("div", { class: "headline" }, this.#title.element, this.#cost.element);

  /** @param {View} view */
  show(view) {
    const title = titleOf(view);
    this.#title.show(title || null, () => [title]);
    const cost = costOf(view);
    if (this.#cost.show(cost, () => drawn(/** @type {Cost} */ (cost))) && cost?.now) {
      view.announce(cost.spoken);
    }
    this.#cost.element.classList.toggle("old", cost?.busy === true);
  }
}

/** @param {View} view */
function titleOf({ editing, day, texts, clock }) {
  if (editing.copy.working) {
    return texts.t("edit_title_working");
  }
  if (day.draft) {
    const { applied_at: at } = day.draft;
    const applies = at ? ` ${texts.t("edit_applies_at", { time: clock.timeAndDay(Date.parse(at)) })}` : "";
    return texts.t("edit_title_draft", { by: askerOf(day.draft.by) }) + applies;
  }
  return day.held ? texts.t("edit_title_held") : "";
}

/** @typedef {{label: string, was?: string, now?: string, more?: string, spoken: string, busy?: boolean}} Cost */

/**
 * Return what to say of the cost; null where nothing is being changed.
 * @param {View} view
 * @returns {Cost | null}
 */
function costOf({ editing, day, texts, clock }) {
  if (!editing.differs) {
    return null;
  }
  const found = editing.rehearsed;
  if (!found) {
    return editing.reasons.length > 0 ? null : { label: texts.t("edit_cost_busy"), spoken: "", busy: true };
  }
  if (found.fault !== undefined || found.reasons.length > 0) {
    return found.fault === undefined ? null : { label: found.fault, spoken: found.fault };
  }
  const { course } = found;
  if (!course || course.cost === null) {
    return { label: texts.t(day.inverter.available ? "edit_cost_unknown" : "edit_cost_away"), spoken: "" };
  }
  const money = (/** @type {number} */ amount) => texts.money(amount, day.currency);
  const until = texts.t("edit_until", { time: clock.timeAndDay(endOf(course)) });
  const now = money(course.cost);
  if (course.saving === null || course.cost_without === null) {
    return { label: until, now, spoken: `${until} ${now}` };
  }
  const worth = worthOf(course, texts, day.currency);
  const { expected } = day;
  if (!expected || expected.saving === null || Math.abs(endOf(expected) - endOf(course)) > HOUR_MS) {
    return { label: until, now, more: worth, spoken: `${until} ${now}, ${worth}` };
  }
  // What is held was rehearsed some minutes before, so its saving says more than its cost: without windows, both cost the same.
  const was = money(course.cost_without - expected.saving);
  const more = texts.t("edit_before", { now: worth, was: worthOf(expected, texts, day.currency) });
  return { label: until, was, now, more, spoken: texts.t("edit_cost_spoken", { until, was, now }) };
}

/**
 * Return what windows save on the bill, and what they leave in the battery beside it: the two that a plan's reason names.
 * @param {Course} course
 * @param {Pick<import("./texts.js").Texts, "t" | "money">} texts
 * @param {string} currency
 */
export function worthOf({ saving, left_gain: left }, texts, currency) {
  const money = (/** @type {number | null} */ amount) => texts.money(Math.abs(amount ?? 0), currency);
  const saves = texts.t((saving ?? 0) <= -LEAST_SHOWN ? "edit_costs_more" : "edit_saves", { amount: money(saving) });
  if (left === null || Math.abs(left) < LEAST_SHOWN) {
    return saves;
  }
  return texts.t(left > 0 ? "edit_left_more" : "edit_left_less", { saves, amount: money(left) });
}

/** @param {Course} course */
function endOf(course) {
  return Date.parse(course.start) + course.level.length * course.step_minutes * MINUTE_MS;
}

/** @param {Cost} cost */
function drawn({ label, was, now, more }) {
  return [
    make("span", { class: "label" }, label),
    ...(was ? [make("s", {}, was), make("span", { "aria-hidden": "true" }, "→")] : []),
    ...(now ? [make("strong", {}, now)] : []),
    ...(more ? [make("span", { class: "more" }, more)] : []),
  ];
}
