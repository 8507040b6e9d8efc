"""One module an area of work: where files are opened and a decision is asked of the domain."""
