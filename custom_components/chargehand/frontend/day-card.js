/** The card `custom:chargehand-day`: subscribes to an inverter's day, and puts the picture, the editor and the notes together. */

import { CardFrame } from "./card-frame.js";
import { configForm, registerCard, stubConfig } from "./card-config.js";
import { define } from "./elements.js";
import { HouseClock } from "./house-clock.js";
import { inverterOf, inverters, nameOf } from "./inverters.js";
import { DaySubscription } from "./subscription.js";
import { loadTexts } from "./texts.js";

/** @import {CardConfig} from "./card-config.js" */
/** @import {Refusal} from "./subscription.js" */
/** @import {Texts} from "./texts.js" */
/** @import {Day, Hass} from "./types.js" */

export class DayCard extends HTMLElement {
  /** @type {CardConfig | null} */
  #config = null;
  /** @type {Hass | null} */
  #hass = null;
  /** @type {Texts | null} */
  #texts = null;
  /** @type {Hass["locale"] | null} Whose texts these are, or that are asked for. */
  #textsOf = null;
  /** @type {Day | null} */
  #day = null;
  /** @type {{refusal: Refusal | null} | null} What the subscription was lost by. */
  #lost = null;
  /** @type {DaySubscription | null} */
  #subscription = null;
  /** @type {string | null} The inverter that is subscribed to. */
  #subscribed = null;
  #frame = new CardFrame(this.attachShadow({ mode: "open" }));

  /** @param {CardConfig} config */
  setConfig(config) {
    // Nothing is known of the user's language yet when the page calls this.
    if (config.device_id !== undefined && typeof config.device_id !== "string") {
      throw new Error("device_id is the id of one device. Choose the inverter in the card's visual editor, or leave it out.");
    }
    this.#config = config;
    this.#follow();
  }

  /** @param {Hass} hass */
  set hass(hass) {
    const before = this.#hass;
    this.#hass = hass;
    this.#frame.hass = hass;
    if (this.#textsOf !== hass.locale || (before && before.language !== hass.language)) {
      void this.#loadTexts(hass);
    }
    if (before?.devices !== hass.devices || before?.connection !== hass.connection) {
      this.#follow();
    }
  }

  connectedCallback() {
    this.#follow();
  }

  disconnectedCallback() {
    this.#leave();
  }

  getCardSize() {
    return 12;
  }

  getGridOptions() {
    return { columns: "full", min_columns: 6 };
  }

  /** @param {Hass} hass */
  static getStubConfig(hass) {
    return stubConfig(hass);
  }

  static getConfigForm() {
    return configForm();
  }

  /** @param {Hass} hass */
  async #loadTexts(hass) {
    this.#textsOf = hass.locale;
    try {
      this.#texts = await loadTexts(hass);
    } catch {
      // The page hands over its state again with the next change in the house, and then they are asked for again.
      this.#textsOf = null;
    }
    this.#show();
  }

  /** Subscribe to the card's inverter, where it is another one than before or was not there. */
  #follow() {
    const hass = this.#hass;
    if (!hass || !this.#config || !this.isConnected) {
      return;
    }
    const found = inverterOf(hass, this.#config.device_id);
    const id = "device" in found ? found.device.id : null;
    if (id !== this.#subscribed) {
      this.#leave();
      this.#day = null;
      this.#subscribed = id;
      if (id) {
        this.#subscription = new DaySubscription(hass.connection, id, this.#take, this.#lose);
        this.#subscription.start();
      }
    }
    this.#show();
  }

  #leave() {
    this.#subscription?.stop();
    this.#subscription = null;
    this.#subscribed = null;
    this.#lost = null;
  }

  /** @param {Day} day */
  #take = (day) => {
    this.#day = day;
    this.#lost = null;
    this.#show();
  };

  /** @param {Refusal | null} refusal */
  #lose = (refusal) => {
    this.#lost = { refusal };
    this.#show();
  };

  #show() {
    const [hass, texts, config] = [this.#hass, this.#texts, this.#config];
    if (!hass || !texts || !config) {
      return;
    }
    const found = inverterOf(hass, config.device_id);
    if ("missing" in found) {
      const names = inverters(hass).map(nameOf).join(", ");
      this.#frame.showBlank(texts.t(found.missing, { names }));
    } else if (this.#day) {
      const clock = new HouseClock(this.#day.clock, hass.locale);
      this.#frame.showDay(this.#day, texts, clock, this.#lost && this.#why(this.#lost.refusal, texts));
    } else if (this.#lost) {
      this.#frame.showBlank(this.#why(this.#lost.refusal, texts));
    } else {
      this.#frame.showBlank(texts.t("loading", { name: nameOf(found.device) }), true);
    }
  }

  /**
   * @param {Refusal | null} refusal
   * @param {Texts} texts
   */
  #why(refusal, texts) {
    if (!refusal) {
      return texts.t("connection_lost");
    }
    return refusal.code === "unauthorized" ? texts.t("not_allowed") : refusal.message;
  }
}

define("chargehand-day", DayCard);
registerCard();
