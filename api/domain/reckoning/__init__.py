"""What several rules reckon with: fit, tallies, what is held, words. Rules import this, never one another."""
