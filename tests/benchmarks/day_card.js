/** Runs in the page before anything of it: notes what the day card asks and is answered, what is pressed, and when the card stands drawn. */
(() => {
  const meter = {
    presses: 0,
    pressedAt: 0,
    connectedAt: 0,
    /** Milliseconds from asking to the answer, of each rehearsal. */
    rehearsals: [],
    receipts: [],
    /** When the card had its first data. */
    dataAt: 0,
    card: null,
  };
  window.meter = meter;
  const asked = new Map();

  const hear = ({ id, type, result, success }) => {
    const question = asked.get(id);
    if (question?.type === "chargehand/day/subscribe" && type === "event" && meter.dataAt === 0) {
      meter.dataAt = performance.now();
    }
    if (type !== "result" || !question || !success) {
      return;
    }
    if (question.type === "chargehand/rehearse") {
      meter.rehearsals.push(performance.now() - question.at);
    }
    if (question.service === "apply_schedule") {
      meter.receipts.push(result.response);
    }
  };

  window.WebSocket = class extends WebSocket {
    constructor(...all) {
      super(...all);
      this.addEventListener("message", ({ data }) => [JSON.parse(data)].flat().forEach(hear));
    }
    send(data) {
      const { id, type, service } = JSON.parse(data);
      asked.set(id, { type, service, at: performance.now() });
      super.send(data);
    }
  };

  for (const kind of ["pointerdown", "keydown"]) {
    window.addEventListener(
      kind,
      (event) => {
        if (event.isTrusted) {
          meter.presses += 1;
          meter.pressedAt = performance.now();
        }
      },
      true,
    );
  }

  const define = customElements.define.bind(customElements);
  customElements.define = (name, element, ...rest) => {
    if (name === "chargehand-day") {
      const connected = element.prototype.connectedCallback;
      element.prototype.connectedCallback = function () {
        meter.card = this;
        meter.connectedAt = performance.now();
        connected.call(this);
      };
    }
    define(name, element, ...rest);
  };

  const inside = (part, selector) => meter.card?.shadowRoot.querySelector(part)?.shadowRoot?.querySelector(selector);

  /** Return when something was there and painted, in ms as the other moments. */
  const painted = (there) =>
    new Promise((done) => {
      const look = () => {
        if (there()) {
          requestAnimationFrame(() => done(performance.now()));
        } else {
          requestAnimationFrame(look);
        }
      };
      look();
    });

  meter.drawn = () => painted(() => inside("chargehand-band", "[data-handle]"));
  meter.confirmed = () => painted(() => inside("chargehand-editor", ".outcome.good:not([hidden])"));
})();
