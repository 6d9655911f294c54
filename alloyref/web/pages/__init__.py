"""Pages for people: forms in, sheets to print out, over the same calculations and views as the API."""
