"""The only place with a database session: engines, the unit of work, the audit chain, rows to facts and back."""
