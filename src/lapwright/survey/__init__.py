"""What stands: faces in walking order, zones, openings, what is fixed to them, and the tape's closure."""
