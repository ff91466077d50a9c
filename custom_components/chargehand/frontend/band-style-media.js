/** How the picture looks where colours are the system's, on paper, and for who wants no motion. */

export const MEDIA_STYLE = `
  @container (max-width: 560px) {
    .bar { display: grid; grid-template-columns: auto auto; justify-content: start; gap: 3px 22px; }
    .moment { grid-column: 1 / -1; }
    .entry { grid-template-columns: 5.6em auto; }
  }
  @media (prefers-reduced-motion: no-preference) {
    .vessel .fill { transition: fill 120ms ease-out; }
    .scroller { scroll-behavior: smooth; }
  }
  @media (forced-colors: active) {
    :host {
      --ink: CanvasText; --soft: CanvasText; --card: Canvas; --rule: GrayText; --now: Highlight; --battery: CanvasText;
      --charge: LinkText; --discharge: VisitedText; --solar: CanvasText; --house: GrayText; --cheap: CanvasText;
    }
    svg { forced-color-adjust: none; }
    .entry .name::before { forced-color-adjust: none; border: 1px solid CanvasText; }
    .price, .cheap-hours, .past-area, .spread, .vessel .fill { fill-opacity: 0.25; }
    .now-text { fill: HighlightText; }
    .midnight, .base { stroke: CanvasText; }
  }
  @media print {
    .knob, .stem, .cursor { display: none; }
    .scroller { overflow: visible; mask-image: none !important; }
    .stage { break-inside: avoid; }
    svg { print-color-adjust: exact; }
  }
`;
