"""Tests of the planning core."""
