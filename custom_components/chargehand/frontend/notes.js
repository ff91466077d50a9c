/** What the card says in words beside its picture: how the schedule stands, what waits, what is missing, what the plan says. */

import { windowName } from "./window-words.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Day, Plan} from "./types.js" */

/** How a note looks: its colour and its icon say the same as its words. @typedef {"good" | "plain" | "warning" | "bad"} Tone */

/** @typedef {{key: string, icon: string, tone: Tone, text: string, lines?: string[]}} Note */

/** The states of the schedule. @type {Record<string, {icon: string, tone: Tone}>} */
const STATUS = {
  confirmed: { icon: "mdi:check-decagram", tone: "good" },
  changing: { icon: "mdi:progress-upload", tone: "plain" },
  changed_elsewhere: { icon: "mdi:account-alert", tone: "warning" },
  unconfirmed: { icon: "mdi:help-rhombus", tone: "warning" },
  never_confirmed: { icon: "mdi:circle-off-outline", tone: "plain" },
};

/** The states of an order that a user has to know of. @type {Record<string, {icon: string, tone: Tone}>} */
const ORDER = {
  waiting: { icon: "mdi:timer-sand", tone: "plain" },
  failed: { icon: "mdi:alert-octagon", tone: "bad" },
  expired: { icon: "mdi:timer-off", tone: "bad" },
};

/**
 * Return how the schedule stands, as one line; of an inverter without a register map, what there is to do.
 * @param {Day} day
 * @param {Texts} texts
 * @returns {Note}
 */
export function statusNote({ status, inverter }, texts) {
  if (!inverter.mapped) {
    return { key: "no_map", icon: "mdi:map-search", tone: "plain", text: texts.t("no_map", { name: inverter.name }) };
  }
  const look = STATUS[status.state] ?? { icon: "mdi:help-rhombus", tone: "plain" };
  return { key: "status", ...look, text: status.text };
}

/**
 * Return the notes that belong above the picture: what keeps it from being true or whole.
 * @param {Day} day
 * @param {Texts} texts
 * @param {HouseClock} clock
 * @returns {Note[]}
 */
export function warnings(day, texts, clock) {
  /** @type {Note[]} */
  const notes = [];
  if (!day.inverter.available) {
    notes.push(away(day, texts, clock));
  }
  const unread = (day.held?.not_readable ?? []).map(({ side, number }) => windowName(side, number, texts));
  if (unread.length > 0) {
    const text = texts.t("windows_not_readable", { windows: unread.join(", ") });
    notes.push({ key: "windows_not_readable", icon: "mdi:calendar-alert", tone: "warning", text });
  }
  const elsewhere = day.held?.set_elsewhere ?? [];
  if (elsewhere.length > 0) {
    const text = texts.t("windows_set_elsewhere", { windows: elsewhere.join("; ") });
    notes.push({ key: "windows_set_elsewhere", icon: "mdi:calendar-account", tone: "warning", text });
  }
  const order = day.order && ORDER[day.order.state];
  if (day.order && order) {
    notes.push({ key: "order", ...order, text: day.order.text });
  }
  return notes;
}

/**
 * Return what the picture lacks, and why.
 * @param {Day} day
 * @param {Texts} texts
 * @returns {Note[]}
 */
export function gaps(day, texts) {
  const { charge, discharge } = day.limits;
  const windows = Boolean(charge ?? discharge);
  const known = day.past.level.some((level) => level !== null);
  if (!day.inverter.mapped) {
    return [];
  }
  /** @type {[boolean, string, string][]} */
  const table = [
    [day.inverter.available && !windows, "no_windows", "mdi:calendar-remove"],
    [day.inverter.available && windows && !day.held, "windows_unread", "mdi:calendar-question"],
    [day.prices.length === 0, "no_prices", "mdi:cash-off"],
    [!known, "no_history", "mdi:chart-line-variant"],
    [!day.expected, "no_expectation", "mdi:crystal-ball"],
  ];
  return table
    .filter(([lacks]) => lacks)
    .map(([, key, icon]) => ({ key, icon, tone: "plain", text: (key === "no_expectation" && day.unexpected) || texts.t(key) }));
}

/**
 * Return the plan's reason, with what it costs and saves.
 * @param {Day} day
 * @param {Texts} texts
 * @param {HouseClock} clock
 * @returns {Note | null}
 */
export function planNote(day, texts, clock) {
  const { plan } = day;
  if (!plan) {
    return null;
  }
  return {
    key: "plan",
    icon: plan.charges ? "mdi:battery-charging-medium" : "mdi:battery-clock",
    tone: "plain",
    text: plan.reason,
    lines: [money(plan, day.currency, texts), texts.t("plan_made", { time: clock.timeAndDay(Date.parse(plan.made)) })].filter(
      Boolean,
    ),
  };
}

/**
 * @param {Plan} plan
 * @param {string} currency
 * @param {Texts} texts
 */
function money({ cost, saving }, currency, texts) {
  if (cost === null) {
    return "";
  }
  const values = { cost: texts.money(cost, currency), saving: texts.money(saving ?? 0, currency) };
  return texts.t(saving === null ? "plan_cost" : "plan_cost_and_saving", values);
}

/**
 * @param {Day} day
 * @param {Texts} texts
 * @param {HouseClock} clock
 * @returns {Note}
 */
function away(day, texts, clock) {
  const { last_read: read, why } = day.inverter;
  const since = read ? texts.t("away_since", { time: clock.timeAndDay(Date.parse(read)) }) : texts.t("away");
  const level = day.past.level.findLast((one) => one !== null) ?? null;
  const lines = [why ?? "", level === null ? "" : texts.t("last_known_level", { level: texts.number(level) })];
  return { key: "away", icon: "mdi:lan-disconnect", tone: "bad", text: since, lines: lines.filter(Boolean) };
}
