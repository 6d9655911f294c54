"""The addresses. Views are a few lines: read, ask a service, write."""
