/** How the card's frame looks. Colours are the theme's. */

export const STYLE = `
  :host { display: block; height: 100%; }
  ha-card {
    position: relative; height: 100%; box-sizing: border-box; padding: 16px;
    container-type: inline-size; color: var(--primary-text-color, #141414);
  }
  header { display: flex; flex-wrap: wrap; align-items: baseline; gap: 4px 16px; }
  h2 { margin: 0; font: inherit; font-size: var(--ha-font-size-xl, 20px); line-height: 1.3; }
  .note { display: flex; gap: 8px; align-items: flex-start; margin: 0; line-height: 1.4; min-width: 0; }
  .note > ha-icon { flex: none; --mdc-icon-size: 20px; color: var(--tone); }
  .note p { margin: 0; overflow-wrap: anywhere; }
  .note .more { color: var(--secondary-text-color, #5e5e5e); }
  .good { --tone: var(--success-color, #43a047); }
  .plain { --tone: var(--secondary-text-color, #5e5e5e); }
  .warning { --tone: var(--warning-color, #ffa600); }
  .bad { --tone: var(--error-color, #db4437); }
  .warnings .note {
    padding: 8px 12px; border-inline-start: 4px solid var(--tone);
    background: color-mix(in srgb, var(--tone) 10%, transparent); border-radius: 4px;
  }
  .warnings, .gaps { display: grid; gap: 8px; }
  .warnings:empty, .gaps:empty, .plan:empty { display: none; }
  .gaps { font-size: var(--ha-font-size-s, 12px); color: var(--secondary-text-color, #5e5e5e); }
  .plan { padding-top: 12px; border-top: 1px solid var(--divider-color, #e0e0e0); }
  .body { display: flex; flex-direction: column; gap: 12px; min-width: 0; }
  [hidden] { display: none !important; }
  .unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap; }
  .blank { display: grid; place-items: center; min-height: 160px; text-align: center; }
  .stale { opacity: 0.55; }
  chargehand-band, chargehand-editor { display: block; min-width: 0; }
  @media (forced-colors: active) {
    .warnings .note { border: 1px solid CanvasText; }
    .note > ha-icon { color: CanvasText; }
  }
`;
