"""Facts and findings to a document, and a document to an archival PDF."""
