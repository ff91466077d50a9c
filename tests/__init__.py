"""Chargehand's tests."""
