"""Duty: from pickup travel over time, or blocks, to damage, life, its scatter and the test that proves it."""
