/**
 * The shapes of what the card is sent and hands on.
 *
 * Moments are ISO strings in UTC. Window times are the house's "HH:MM". Powers are W in windows and kW in courses.
 */

/** @typedef {"charge" | "discharge"} Side */

/**
 * One window as `chargehand.apply_schedule` takes it; what is left out stays as the inverter holds it.
 * @typedef {object} Window
 * @property {number} [number] Counted from 1.
 * @property {string} start "HH:MM".
 * @property {string} end "HH:MM".
 * @property {number} [power] W.
 * @property {number} [current] A.
 * @property {number} [stop_level] %.
 */

/**
 * When a window acts, inside the band.
 * @typedef {object} Occurrence
 * @property {Side} side
 * @property {number} number
 * @property {string} start
 * @property {string} end
 * @property {number | null} stop_level %.
 * @property {number | null} power_kw
 */

/** @typedef {{charge: Window[], discharge: Window[]}} Windows */

/**
 * Why an inverter cannot hold a schedule; about one window where `side` and `number` say so.
 * @typedef {{text: string, side?: Side, number?: number}} Reason
 */

/** Bounds of a value; `shared` where all windows of the side have the same. @typedef {{min: number, max: number, step: number, shared?: boolean}} Range */

/** @typedef {{count: number, stop_level: Range | null, limit: (Range & {unit: "A" | "W"}) | null}} SideLimits */

/**
 * A course in equal steps from `start`; null where nothing is known.
 * @typedef {object} Past
 * @property {string} start
 * @property {number} step_minutes
 * @property {(number | null)[]} level %.
 * @property {(number | null)[]} solar_kw
 * @property {(number | null)[]} load_kw
 */

/**
 * @typedef {object} Course
 * @property {string} start
 * @property {number} step_minutes
 * @property {number[]} level %.
 * @property {number[]} low %.
 * @property {number[]} high %.
 * @property {number[]} solar_kw
 * @property {number[]} load_kw
 * @property {number | null} cost
 * @property {number | null} cost_without
 * @property {number | null} saving
 * @property {number | null} left_kwh
 * @property {number | null} left_gain
 * @property {number | null} wear_cost
 * @property {number | null} grid_charge_kwh
 */

/** @typedef {{start: string, end: string, buy: number, sell: number | null}} Price */

/**
 * @typedef {object} InverterState
 * @property {string} device_id
 * @property {string} name
 * @property {boolean} available
 * @property {string | null} last_read
 * @property {string | null} why Why it does not answer, in words.
 * @property {boolean} mapped Whether it has a register map.
 * @property {boolean} controls Whether Chargehand may change windows.
 * @property {boolean} permitted Whether this user may.
 * @property {{charge: boolean, discharge: boolean}} can
 */

/** @typedef {{step_minutes: number, midnight: boolean, charge: SideLimits | null, discharge: SideLimits | null}} Limits */

/** @typedef {{from: string, offset_minutes: number}} ClockSegment */

/** @typedef {{zone: string, segments: ClockSegment[]}} ClockData */

/** @typedef {{start: string, end: string}} Band */

/** @typedef {Windows & {armed: boolean | null, not_readable?: {side: Side, number: number}[], set_elsewhere?: string[]}} Held */

/** @typedef {Windows & {by: string, since: string, applied_at: string | null, reasons: Reason[]}} Draft */

/** @typedef {{state: string, since: string | null, text: string, armed: boolean | null}} Status */

/** @typedef {{state: string, until: string | null, text: string}} Order */

/** @typedef {"checking" | "writing" | "reading_back" | "confirmed" | "failed"} CommitStage */

/** @typedef {{stage: CommitStage, since: string, seconds: number | null, text: string}} Commit */

/**
 * @typedef {object} Plan
 * @property {string} made
 * @property {string} reason
 * @property {number | null} cost
 * @property {number | null} saving
 * @property {number | null} target_level %.
 * @property {boolean} charges
 */

/** @typedef {{mine: Windows, theirs: Windows, changes: string[], since: string}} Foreign */

/**
 * All that one subscription says of an inverter's day. The first event has every key; a later one only what changed.
 * @typedef {object} Day
 * @property {InverterState} inverter
 * @property {Limits} limits Without a side where the inverter has no windows of it.
 * @property {ClockData} clock
 * @property {Band} band
 * @property {Held | null} held
 * @property {Draft | null} draft
 * @property {{held: Occurrence[], draft: Occurrence[] | null}} acting
 * @property {Price[]} prices
 * @property {Past} past
 * @property {Course | null} expected
 * @property {string | null} unexpected Why nothing is expected, where the house says so.
 * @property {Status} status
 * @property {Order | null} order
 * @property {Commit | null} commit
 * @property {Plan | null} plan
 * @property {Foreign | null} foreign
 * @property {{possible: boolean, text: string | null}} undo
 * @property {string} currency
 */

/**
 * The copy that is being changed on this screen, or laid out as the draft, and what was rehearsed of it.
 * @typedef {Windows & {acting: Occurrence[], course: Course | null, kind?: "working" | "draft"}} Working
 */

/** @typedef {{side: Side, number: number} | null} Selected */

/**
 * What of the page's `hass` the card uses.
 * @typedef {object} Hass
 * @property {Connection} connection
 * @property {boolean} connected
 * @property {string} language
 * @property {Locale} locale
 * @property {{currency?: string}} config
 * @property {Record<string, Device>} devices
 * @property {Record<string, Entity>} entities
 * @property {Record<string, {state: string, attributes: Record<string, unknown>}>} states
 * @property {(category: string, integration: string) => Promise<Localize>} loadBackendTranslation
 * @property {<T>(message: Record<string, unknown>) => Promise<T>} callWS
 * @property {(domain: string, service: string, data?: object, target?: object, notify?: boolean, response?: boolean)
 *   => Promise<{response?: unknown}>} callService
 */

/** @typedef {(key: string, values?: Record<string, unknown>) => string} Localize */

/** @typedef {{language: string, time_format: string, number_format: string}} Locale */

/** @typedef {{id: string, name: string | null, name_by_user: string | null, identifiers: [string, string][]}} Device */

/**
 * @typedef {object} Entity
 * @property {string} entity_id
 * @property {string} [device_id]
 * @property {string} [platform]
 * @property {string} [translation_key]
 * @property {boolean} [hidden]
 */

/**
 * @typedef {object} Connection
 * @property {<T>(callback: (event: T) => void, message: object, options?: {resubscribe?: boolean})
 *   => Promise<() => Promise<void>>} subscribeMessage
 * @property {(type: string, listener: () => void) => void} addEventListener
 * @property {(type: string, listener: () => void) => void} removeEventListener
 */

export {};
