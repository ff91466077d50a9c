/** What every page loads: the card and the dashboard. */

import "./day-card.js";
import "./dashboard-strategy.js";
