"""Houses for the yearly measurement of planning: what they use and get, their battery, and what is played on them."""
