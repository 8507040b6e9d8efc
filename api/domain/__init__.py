"""The pure core: plain data in, findings out. No web, SQL, clock, log or environment."""
