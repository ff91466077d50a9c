"""The demo as people use it: a real Home Assistant and the bench, looked at and worked in a real browser."""
