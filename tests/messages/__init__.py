"""Tests of what users read."""
