"""Data that ships: machine profiles, recipes, page templates, schemas."""
