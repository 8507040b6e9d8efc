"""Routes: parse, authorise, call one operation, return. No decision about the season is made here."""
