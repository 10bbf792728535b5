"""A detail file of a job; reading a job never runs it."""

raise SystemExit("a detail file ran while a job was only read")
