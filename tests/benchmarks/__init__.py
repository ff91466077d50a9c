"""Measurements of Chargehand: run by hand, printed, and never a reason for a test to fail. README.md says how."""
