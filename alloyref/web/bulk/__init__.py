"""Many questions of one calculation in one request: rows in, the same rows with their answers out."""
