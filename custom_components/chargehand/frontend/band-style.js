/** How the picture looks. Colours are the theme's; each line is mixed with the text's colour, so that it stands out in light and dark. */

export const STYLE = `
  :host {
    display: block; min-width: 0; position: relative;
    --ink: var(--primary-text-color, #141414);
    --soft: var(--secondary-text-color, #5e5e5e);
    --card: var(--ha-card-background, var(--card-background-color, #fff));
    --battery: color-mix(in srgb, var(--energy-battery-out-color, #4db6ac) 78%, var(--ink));
    --charge: color-mix(in srgb, var(--energy-grid-consumption-color, #488fc2) 84%, var(--ink));
    --discharge: color-mix(in srgb, var(--energy-grid-return-color, #8353d1) 84%, var(--ink));
    --solar: color-mix(in srgb, var(--energy-solar-color, #ff9800) 88%, var(--ink));
    --house: color-mix(in srgb, var(--ink) 52%, var(--card));
    --cheap: color-mix(in srgb, var(--success-color, #43a047) 82%, var(--ink));
    --now: var(--primary-color, #009ac7);
    --rule: color-mix(in srgb, var(--ink) 13%, transparent);
    font-size: 12px; line-height: 1.3; font-variant-numeric: tabular-nums; color: var(--ink);
  }
  .bar { display: flex; flex-wrap: wrap; align-items: baseline; gap: 2px 20px; margin-bottom: 8px; min-height: 24px; }
  .moment { flex: none; font-size: 15px; font-weight: 500; min-width: 4em; }
  .moment .sort { margin-inline-start: 8px; font-size: 12px; font-weight: 400; color: var(--soft); }
  .entry { display: grid; grid-template-columns: auto auto; align-items: baseline; column-gap: 6px; white-space: nowrap; }
  .entry .name { color: var(--soft); }
  .entry .name::before {
    content: ""; display: inline-block; width: 10px; height: 10px; border-radius: 3px; margin-inline-end: 6px; background: var(--tone);
  }
  .entry .amount { font-size: 14px; font-weight: 500; }
  .entry.price { --tone: color-mix(in srgb, var(--ink) 32%, var(--card)); }
  .entry.level { --tone: var(--battery); }
  .entry.solar { --tone: var(--solar); }
  .entry.house { --tone: var(--house); }
  .stage { display: flex; min-width: 0; }
  .gutter { flex: none; display: block; }
  .scroller { flex: 1; min-width: 0; overflow: auto hidden; scrollbar-width: none; overscroll-behavior-x: contain; }
  .scroller::-webkit-scrollbar { display: none; }
  .scroller.scrolls {
    mask-image: linear-gradient(to right, transparent, #000 14px, #000 calc(100% - 14px), transparent);
  }
  .scroller.scrolls.first { mask-image: linear-gradient(to left, transparent, #000 14px); }
  .scroller.scrolls.last { mask-image: linear-gradient(to right, transparent, #000 14px); }
  svg { display: block; overflow: visible; }
  .picture { user-select: none; -webkit-user-select: none; }
  text { font-size: var(--label, 12px); fill: var(--soft); }
  .value, .edge-time.end { text-anchor: end; }
  .hour, .price-label, .now-text, .power { text-anchor: middle; }
  .unit { font-size: 11px; }
  .weekday { font-weight: 500; fill: var(--ink); }
  .tick { stroke: var(--rule); }
  .grid { stroke: var(--rule); }
  .grid.fine { stroke-dasharray: 1 5; }
  .base { stroke: color-mix(in srgb, var(--ink) 36%, transparent); }
  .midnight { stroke: color-mix(in srgb, var(--ink) 30%, transparent); stroke-dasharray: 2 3; }
  .price.usual { fill: color-mix(in srgb, var(--ink) 10%, transparent); }
  .price.expensive { fill: color-mix(in srgb, var(--ink) 24%, transparent); }
  .price.cheap { fill: color-mix(in srgb, var(--cheap) 22%, transparent); }
  .price-line { fill: none; stroke: color-mix(in srgb, var(--ink) 55%, transparent); stroke-width: 1.5; }
  .price-label.cheap { fill: color-mix(in srgb, var(--cheap) 70%, var(--ink)); font-weight: 600; }
  .price-label.expensive { fill: var(--ink); font-weight: 500; }
  .cheap-hours { fill: color-mix(in srgb, var(--cheap) 8%, transparent); }
  .stripe-cheap { stroke: color-mix(in srgb, var(--cheap) 55%, transparent); }
  .stripe-solar { stroke: color-mix(in srgb, var(--solar) 60%, transparent); }
  .stripe-house { stroke: color-mix(in srgb, var(--house) 60%, transparent); }
  .past-area { fill: color-mix(in srgb, var(--battery) 26%, transparent); }
  .past-line, .expected-line, .other-line { fill: none; stroke: var(--battery); stroke-width: 2.25; stroke-linejoin: round; stroke-linecap: round; }
  .expected-line { stroke-width: 2; }
  .expected-line.stale { opacity: 0.45; }
  .other-line { stroke: var(--soft); stroke-width: 1.25; stroke-dasharray: 1 4; }
  .spread { fill: color-mix(in srgb, var(--battery) 17%, transparent); }
  .solar.past { fill: color-mix(in srgb, var(--solar) 62%, transparent); }
  .house.past { fill: color-mix(in srgb, var(--house) 62%, transparent); }
  .solar.expected { fill: color-mix(in srgb, var(--solar) 14%, transparent); }
  .house.expected { fill: color-mix(in srgb, var(--house) 14%, transparent); }
  .solar-line, .house-line { fill: none; stroke-width: 1.25; stroke-linejoin: round; }
  .solar-line { stroke: var(--solar); }
  .house-line { stroke: var(--house); }
  .charge { --side: var(--charge); }
  .discharge { --side: var(--discharge); }
  .vessel .fill { fill: color-mix(in srgb, var(--side) 15%, transparent); }
  .vessel .walls { fill: none; stroke: var(--side); stroke-width: 1.5; }
  .vessel .lid { stroke: var(--side); stroke-width: 3.5; stroke-linecap: round; }
  .vessel .arrow { fill: none; stroke: var(--side); stroke-width: 2; stroke-linecap: round; stroke-linejoin: round; opacity: 0.75; }
  .vessel.drafted .fill { fill: color-mix(in srgb, var(--side) 9%, transparent); }
  .vessel.drafted .walls, .sample.drafted { stroke-dasharray: 5 4; }
  .vessel.drafted .lid { stroke-dasharray: 9 5; stroke-width: 3; stroke-linecap: butt; }
  .vessel.replaced .fill { fill: none; }
  .vessel.replaced .walls, .vessel.replaced .lid { stroke: color-mix(in srgb, var(--ink) 42%, transparent); stroke-width: 1; }
  .vessel.elsewhere .walls, .sample.elsewhere { stroke-width: 3; stroke-dasharray: 0.1 5; stroke-linecap: round; }
  .vessel.over, .vessel-label.over { opacity: 0.6; }
  .vessel.off, .vessel-label.off { opacity: 0.4; }
  .vessel.selected:not(.replaced) .fill { fill: color-mix(in srgb, var(--side) 26%, transparent); }
  .vessel.selected:not(.replaced) .walls { stroke-width: 2.25; }
  .mark { fill: none; stroke: var(--side, var(--soft)); stroke-width: 1.4; stroke-linejoin: round; stroke-linecap: round; }
  .mark.replaced { stroke: color-mix(in srgb, var(--ink) 50%, transparent); }
  .vessel-label text { fill: var(--ink); font-weight: 600; }
  .plate { fill: color-mix(in srgb, var(--card) 80%, transparent); }
  .plate.full { fill: color-mix(in srgb, var(--card) 94%, transparent); }
  .replaced .plate { fill: none; }
  .power { font-size: 11px; }
  .edge-time { fill: var(--ink); font-weight: 600; }
  .vessel-label text, .edge-time, .price-label, .power { paint-order: stroke; stroke: var(--card); stroke-width: 3px; stroke-linejoin: round; }
  .now-line { stroke: var(--now); stroke-width: 1.5; }
  .now-level { fill: var(--battery); stroke: var(--card); stroke-width: 2; }
  .now-label { fill: var(--now); }
  .now-text { fill: var(--text-primary-color, #fff); font-weight: 600; }
  .cursor line { stroke: var(--ink); stroke-width: 1; stroke-dasharray: 3 3; opacity: 0.7; }
  .cursor circle { fill: var(--card); stroke: var(--battery); stroke-width: 2; }
  .clipped { clip-path: url(#within); }
  .now, .cursor, .layer { pointer-events: none; }
  .field { fill: transparent; outline: none; }
  .field:focus-visible { stroke: var(--now); stroke-width: 2; }
  .handles [data-handle] { outline: none; }
  .hold { fill: transparent; }
  .handles [data-handle="body"] { cursor: pointer; }
  .editable [data-handle] { touch-action: none; }
  .editable [data-handle="body"] { cursor: grab; }
  .editable [data-handle="start"], .editable [data-handle="end"] { cursor: ew-resize; }
  .editable [data-handle="lid"] { cursor: ns-resize; }
  .knob { fill: var(--card); stroke: var(--side); stroke-width: 2; visibility: hidden; }
  .stem { stroke: var(--side); stroke-width: 1; stroke-dasharray: 2 2; visibility: hidden; }
  .editable.selected .knob, .editable.selected .stem { visibility: visible; }
  .handles:not(.editable) [data-handle]:not([data-handle="body"]) { pointer-events: none; }
  [data-handle]:focus-visible .hold { stroke: var(--now); stroke-width: 2; }
  .kinds { display: flex; flex-wrap: wrap; gap: 4px 18px; margin-top: 12px; color: var(--soft); }
  .kind { display: inline-flex; align-items: center; gap: 7px; }
  .sample { fill: none; stroke: var(--soft); stroke-width: 1.5; }
  .sample.replaced { stroke-width: 1; opacity: 0.7; }
  .unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); white-space: nowrap; }
`;
