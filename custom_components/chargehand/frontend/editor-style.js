/** How the editor looks. Colours are the theme's. */

export const EDITOR_STYLE = `
  :host { display: block; }
  .editor {
    display: grid; gap: 12px; min-width: 0; line-height: 1.4; --ink: var(--primary-text-color, #141414); color: var(--ink); --card: var(--card-background-color, #fff);
    --line: var(--divider-color, #e0e0e0); --soft: var(--secondary-text-color, #5e5e5e);
    --accent: var(--primary-color, #009ac7); --bad: var(--error-color, #db4437);
    --good: var(--success-color, #43a047); --warn: var(--warning-color, #ffa600);
    --charge: color-mix(in srgb, var(--energy-grid-consumption-color, #488fc2) 84%, var(--ink));
    --discharge: color-mix(in srgb, var(--energy-grid-return-color, #8353d1) 84%, var(--ink));
  }
  [hidden] { display: none !important; }
  p, ul, ol, h3 { margin: 0; }
  p, li, td, th { overflow-wrap: anywhere; }
  .headline { display: flex; flex-wrap: wrap; gap: 4px 16px; align-items: baseline; justify-content: space-between; }
  .title { font-weight: 500; }
  .cost { display: flex; flex-wrap: wrap; gap: 2px 8px; align-items: baseline; font-variant-numeric: tabular-nums; }
  .cost.old, .cost s, .cost .more, .cost .label { color: var(--soft); }
  .cost strong { font-size: 1.25em; font-weight: 500; }
  .notes { display: grid; gap: 8px; }
  .notes:not(:has(> :not([hidden]))) { display: none; }
  .told, .lock { padding: 8px 12px; border-inline-start: 4px solid var(--warn); background: color-mix(in srgb, var(--warn) 10%, transparent); border-radius: 4px; }
  a { color: color-mix(in srgb, var(--accent) 60%, var(--ink)); display: inline-block; padding: 12px 0; margin: -12px 0; }
  .armed { display: flex; gap: 8px; align-items: center; min-height: 44px; }
  .armed input { width: 20px; height: 20px; margin: 0; accent-color: var(--accent); }

  button {
    font: inherit; color: inherit; min-height: 44px; min-width: 44px; padding: 8px 16px; border-radius: 8px; cursor: pointer;
    border: 1px solid var(--line); background: var(--card);
  }
  button:hover:not(.primary) { background: color-mix(in srgb, var(--accent) 8%, var(--card)); }
  button.primary { border-color: transparent; background: color-mix(in srgb, var(--accent) 78%, #000); color: var(--text-primary-color, #fff); font-weight: 500; }
  button[aria-disabled="true"] { opacity: 0.55; cursor: not-allowed; }
  button.primary[aria-disabled="true"] { background: transparent; color: inherit; border-color: var(--line); }
  button:focus-visible, input:focus-visible, a:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
  .bar { display: flex; flex-wrap: wrap; gap: 8px; align-items: center; }
  .buttons { display: grid; gap: 8px; }
  .bars { display: flex; flex-wrap: wrap; gap: 8px 16px; justify-content: space-between; }
  .more button { border-color: transparent; padding: 8px 12px; color: color-mix(in srgb, var(--accent) 60%, var(--ink)); font-weight: 500; }
  .why { color: var(--soft); flex: 1 1 200px; }
  .why:empty { display: none; }

  .rows { display: grid; gap: 8px; }
  .window { border: 1px solid var(--line); border-radius: 8px; border-inline-start: 6px solid var(--side); }
  .window.charge { --side: var(--charge); }
  .window.discharge { --side: var(--discharge); border-inline-start-style: double; }
  .window.wrong { border-color: var(--bad); }
  .head { display: flex; gap: 12px; align-items: center; width: 100%; text-align: start; border: none; background: none; border-radius: 8px; }
  .head .lines { flex: 1; min-width: 0; display: grid; font-variant-numeric: tabular-nums; }
  .head .was { color: var(--soft); font-size: 0.9em; }
  .head .was:empty { display: none; }
  .head ha-icon { flex: none; }
  .chosen .chevron { transform: rotate(180deg); }
  .opened { display: flex; flex-wrap: wrap; gap: 12px; align-items: end; padding: 4px 16px 16px; }
  .window:not(.chosen) .opened { display: none; }
  .fields { display: grid; grid-template-columns: repeat(auto-fit, minmax(112px, 1fr)); gap: 12px; flex: 1 1 260px; }
  label { min-width: 0; }
  .fields label { display: grid; gap: 4px; }
  .fields span { color: var(--soft); font-size: 0.9em; }
  .fields input {
    font: inherit; color: inherit; min-height: 44px; box-sizing: border-box; width: 100%; padding: 8px 12px; border-radius: 8px;
    border: 1px solid var(--input-idle-line-color, var(--soft)); background: var(--card);
    font-variant-numeric: tabular-nums; color-scheme: light dark;
  }
  .fields input[aria-invalid="true"] { border: 2px solid var(--bad); }
  .fields input:read-only { border-style: dashed; }
  .field-note { grid-column: 1 / -1; color: var(--soft); }
  .field-note:empty { display: none; }
  .reasons { color: color-mix(in srgb, var(--bad) 80%, var(--ink)); padding: 4px 16px 8px 32px; }
  .gone { color: var(--soft); }

  .outcome, .progress { padding: 12px; border-radius: 8px; border-inline-start: 4px solid var(--tone, var(--soft)); background: color-mix(in srgb, var(--tone, var(--soft)) 10%, transparent); display: grid; gap: 8px; }
  .good { --tone: var(--good); }
  .bad { --tone: var(--bad); }
  .strong { font-weight: 500; }
  table { border-collapse: collapse; font-variant-numeric: tabular-nums; }
  th, td { text-align: start; padding: 6px 12px 6px 0; font-weight: 400; vertical-align: top; }
  .outcome th { color: var(--soft); }
  .progress ol { display: flex; flex-wrap: wrap; gap: 4px 16px; padding: 0; list-style: none; }
  .progress li::before { content: "○ "; }
  .progress li.done::before { content: "✓ "; }
  .progress li.now { font-weight: 500; }
  .progress li.now::before { content: "● "; }
  .progress li.ahead { color: var(--soft); }

  .elsewhere { border: 1px solid var(--warn); border-radius: 8px; padding: 12px 16px; display: grid; gap: 8px; }
  .elsewhere h3 { font: inherit; font-weight: 500; }
  .comparison { overflow-x: auto; }
  .comparison table { width: 100%; }
  .comparison thead th { color: var(--soft); border-bottom: 1px solid var(--line); }
  mark { background: color-mix(in srgb, var(--warn) 25%, transparent); color: inherit; padding: 0 2px; text-decoration: underline; text-decoration-style: dotted; }
  .badge { display: inline-block; margin-inline-start: 8px; padding: 0 6px; border: 1px solid var(--warn); border-radius: 8px; font-size: 0.8em; }

  @container (max-width: 480px) {
    .bar > button { flex: 1 1 auto; }
    .fields { grid-template-columns: 1fr 1fr; }
    .opened { padding: 4px 12px 12px; }
  }
  @media (forced-colors: active) {
    .window.chosen, .outcome, .progress, .told, .lock { border: 2px solid CanvasText; }
    button.primary { forced-color-adjust: none; background: ButtonText; color: ButtonFace; border-color: ButtonText; }
    button[aria-disabled="true"] { opacity: 1; color: GrayText; border-color: GrayText; background: ButtonFace; }
  }
  @media (prefers-reduced-motion: no-preference) {
    .chevron { transition: transform 120ms; }
  }
`;
