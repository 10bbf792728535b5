"""What is wanted: keep, remove or cover per zone; the assembly; the detail chosen for each place; the stock."""
