"""The database's history: each step from one shape of the tables to the next."""
