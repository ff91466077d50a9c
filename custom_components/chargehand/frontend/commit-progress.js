/** The stages of a change on its way to the inverter, as they come. */

import { make } from "./elements.js";
import { Place } from "./place.js";

/** @import {CommitStage} from "./types.js" */
/** @import {View} from "./view.js" */

/** @type {CommitStage[]} */
const STAGES = ["checking", "writing", "reading_back", "confirmed"];

export class CommitProgress {
  #place = new Place(make("div", { class: "progress" }));
  element = this.#place.element;

  /** @param {View} view */
  show({ day, presses, texts, announce }) {
    const { commit } = day;
    // One that is over is told by its receipt, or by the schedule's status where somebody else asked for it.
    const over = commit?.stage === "confirmed" || commit?.stage === "failed";
    const shown = commit && (presses.busy !== null || !over) ? commit : null;
    const changed = this.#place.show(shown, () => {
      const { stage, text } = /** @type {NonNullable<typeof shown>} */ (shown);
      const reached = STAGES.indexOf(stage);
      const items = STAGES.map((one, index) => {
        const state = stage === "failed" || index > reached ? "ahead" : index < reached || one === "confirmed" ? "done" : "now";
        return make(
          "li",
          { class: state, ...(state === "now" ? { "aria-current": "step" } : {}) },
          texts.t(`edit_stage_${one}`),
        );
      });
      return [...(stage === "failed" ? [] : [make("ol", { "aria-label": texts.t("edit_stages") }, ...items)]), make("p", {}, text)];
    });
    if (changed && shown) {
      announce(shown.text);
    }
    this.element.classList.toggle("bad", shown?.stage === "failed");
  }
}
