"""The service: teams, maps, templates, scores and renders in a database, behind a REST API."""
