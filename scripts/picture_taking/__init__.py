"""Takes the pictures of the documents: what the demo's Home Assistant shows, in a real browser."""
