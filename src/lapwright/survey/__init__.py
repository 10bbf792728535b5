"""What stands: surfaces in walking order, zones, openings, penetrations, attachments, and the tape's closure."""
