"""The season-end report: facts, findings and totals of one authority, laid out as a document. Pure."""
