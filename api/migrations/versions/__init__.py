"""The steps, named by the day they were made."""
