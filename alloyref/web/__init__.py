"""The HTTP face: schemas, routes, problems and the API description. No arithmetic here."""
