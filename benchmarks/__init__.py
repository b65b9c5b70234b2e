"""Timed work. Figures hold for the machine they were taken on; quote ratios and medians, not single times."""
