"""Many bars: evaluated in batches, compared, sized to a rate, their holes placed."""
