/** Which windows the picture shows, and how each stands: on the inverter, drafted, replaced, changed elsewhere. */

import { occurrences } from "./occurrences.js";

/** @import {HouseClock} from "./house-clock.js" */
/** @import {Day, Occurrence, Selected, Side, Window, Windows, Working} from "./types.js" */

/**
 * - `held`: the inverter holds it, and so it stays;
 * - `drafted`: new or changed, not yet on the inverter;
 * - `replaced`: the inverter holds it, and the draft changes or removes it; or somebody elsewhere replaced it;
 * - `elsewhere`: the inverter holds it, and somebody else than Chargehand put it there.
 * @typedef {"held" | "drafted" | "replaced" | "elsewhere"} Kind
 */

/**
 * A window at one of the times that it acts. `key` stays the same while it is changed.
 * @typedef {object} Vessel
 * @property {string} key
 * @property {Kind} kind
 * @property {Side} side
 * @property {number} number
 * @property {number} from Milliseconds since 1970.
 * @property {number} to
 * @property {number | null} stop %.
 * @property {number | null} power kW.
 * @property {boolean} next Whether it is the window's time that the keyboard reaches: the first that is not over, else the last.
 */

/**
 * Return the windows to draw, what is replaced first.
 * @param {Day} day
 * @param {Working | null} working
 * @param {Selected} selected
 * @param {HouseClock} clock
 * @param {number} now
 * @returns {Vessel[]}
 */
export function vessels(day, working, selected, clock, now) {
  const shown = working ?? day.draft ?? day.held;
  const acting = working?.acting ?? (day.draft && day.acting.draft ? day.acting.draft : day.acting.held);
  const { foreign, held } = day;
  const drafted = (/** @type {Occurrence} */ one) => !keeps(held, shown, one);
  const over = (/** @type {Occurrence} */ one) => Date.parse(one.end) <= now;
  // What is over was as the inverter holds it, whatever the draft says; but what somebody has in hand does not vanish.
  const inHand = (/** @type {Occurrence} */ one) => selected?.side === one.side && selected.number === one.number;
  const changed = day.acting.held.filter((one) => shown && !keeps(shown, held, one));
  const mine = shown === held && foreign ? occurrences(foreign.mine, day.band, clock) : [];
  const lost = mine.filter((one) => foreign && !keeps(foreign.theirs, foreign.mine, one));
  return [
    ...laid([...changed, ...lost].filter((one) => !over(one)), now, () => "replaced"),
    ...laid([...changed.filter(over), ...acting.filter((one) => !over(one) || !drafted(one) || inHand(one))], now, (one) => {
      if (drafted(one) && !changed.includes(one)) {
        return "drafted";
      }
      return foreign && !keeps(foreign.mine, foreign.theirs, one) ? "elsewhere" : "held";
    }),
  ];
}

/**
 * Return whether windows have one as others have it.
 * @param {Windows | null} windows
 * @param {Windows | null} others Where the one is from.
 * @param {{side: Side, number: number}} one
 */
function keeps(windows, others, { side, number }) {
  const [window, other] = [windows, others].map((all) => all?.[side].find((each) => each.number === number));
  return window !== undefined && other !== undefined && same(window, other);
}

/**
 * Return whether two windows say the same.
 * @param {Window} window
 * @param {Window} other
 */
export function same(window, other) {
  /** @type {(keyof Window)[]} */
  const keys = ["start", "end", "power", "current", "stop_level"];
  return keys.every((key) => (window[key] ?? null) === (other[key] ?? null));
}

/**
 * @param {Occurrence[]} acting
 * @param {number} now
 * @param {(one: Occurrence) => Kind} kindOf
 * @returns {Vessel[]}
 */
function laid(acting, now, kindOf) {
  /** @type {Map<string, Vessel[]>} */
  const byName = new Map();
  const found = acting.map((one) => {
    const { side, number, stop_level: stop, power_kw: power } = one;
    const kind = kindOf(one);
    const name = `${kind === "replaced" ? "replaced-" : ""}${side}-${number}`;
    const own = byName.get(name) ?? [];
    byName.set(name, own);
    const [from, to] = [Date.parse(one.start), Date.parse(one.end)];
    const vessel = { key: `${name}-${own.length + 1}`, kind, side, number, from, to, stop, power, next: false };
    own.push(vessel);
    return vessel;
  });
  for (const own of byName.values()) {
    const next = own.find(({ to }) => to > now) ?? own.at(-1);
    if (next) {
      next.next = true;
    }
  }
  return found;
}
