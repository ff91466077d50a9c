/** What came of a press: the receipt of a change that was proven, or why there is none and what the inverter holds. */

import { make } from "./elements.js";
import { Place } from "./place.js";
import { scheduleWords, settingName, settingValue } from "./window-words.js";

/** @import {Receipt} from "./calls.js" */
/** @import {Outcome} from "./presses.js" */
/** @import {View} from "./view.js" */

/** Faults by what they mean to the user. The others say all in their message. @type {Record<string, string>} */
const TITLES = {
  schedule_rejected: "edit_failed_rejected",
  not_safely: "edit_failed_rejected",
  schedule_restored: "edit_failed_restored",
  schedule_uncertain: "edit_failed_uncertain",
  own_fault: "edit_failed_uncertain",
};

/** Faults whose message says already what the inverter holds, or that it is not known. */
const SAYS_HELD = new Set(["schedule_restored", "schedule_uncertain", "own_fault"]);

/** Presses that are about the inverter's windows. */
const WRITING = new Set(["apply", "undo", "put_back"]);

export class OutcomeView {
  #place = new Place(make("div", { class: "outcome", role: "group" }));
  element = this.#place.element;

  /** @param {View} view */
  show(view) {
    const { outcome } = view.presses;
    if (this.#place.show(outcome, () => drawn(/** @type {Outcome} */ (outcome), view)) && outcome) {
      this.element.setAttribute("aria-label", view.texts.t("edit_outcome"));
      this.element.className = `outcome ${outcome.kind === "fault" ? "bad" : outcome.kind === "receipt" ? "good" : "plain"}`;
      view.announce(this.element.querySelector("p")?.textContent ?? "");
    }
  }
}

/**
 * @param {Outcome} outcome
 * @param {View} view
 * @returns {Node[]}
 */
function drawn(outcome, view) {
  const { texts } = view;
  if (outcome.kind === "receipt") {
    return proven(outcome.receipt, view);
  }
  if (outcome.kind === "plan") {
    return [make("p", {}, texts.t(`edit_plan_${outcome.says}`, { why: outcome.why }))];
  }
  const held = view.day.held;
  return [
    make("p", { class: "strong" }, texts.t(TITLES[outcome.key] ?? "edit_failed")),
    make("p", {}, outcome.text),
    ...(held && WRITING.has(outcome.of) && !SAYS_HELD.has(outcome.key)
      ? [make("p", {}, texts.t("edit_held", { schedule: scheduleWords(held, texts, view.clock) }))]
      : []),
  ];
}

/**
 * @param {Receipt} receipt
 * @param {View} view
 */
function proven(receipt, { texts, clock }) {
  if (receipt.outcome === "unchanged") {
    return [make("p", { class: "strong" }, texts.t("edit_unchanged"))];
  }
  const value = (/** @type {string} */ what, /** @type {string | number | boolean | null} */ one) =>
    settingValue(what, one, texts, clock);
  const rows = receipt.changes.map(({ what, was, now }) =>
    make(
      "tr",
      {},
      make("th", { scope: "row" }, settingName(what, texts)),
      make("td", {}, value(what, was)),
      make("td", { "aria-hidden": "true" }, "→"),
      make("td", {}, value(what, now)),
    ),
  );
  const adjusted = receipt.adjusted.map(({ what, requested, applied, why }) =>
    make(
      "li",
      {},
      texts.t("edit_adjusted", {
        what: settingName(what, texts),
        requested: texts.number(requested, 1),
        applied: value(what, applied),
        why: texts.t(`edit_why_${why}`),
      }),
    ),
  );
  return [
    make("p", { class: "strong" }, texts.t(receipt.saved ? "edit_saved" : "edit_confirmed", { seconds: texts.number(receipt.seconds, 1) })),
    make(
      "p",
      {},
      texts.t("edit_registers", {
        written: texts.number(receipt.registers_written),
        read: texts.number(receipt.registers_read_back),
        time: clock.time(Date.parse(receipt.at)),
      }),
    ),
    ...(rows.length > 0 ? [make("table", { "aria-label": texts.t("edit_changes") }, make("tbody", {}, ...rows))] : []),
    ...(adjusted.length > 0 ? [make("ul", {}, ...adjusted)] : []),
  ];
}
