"""What is wanted: keep, remove or cover per zone; assemblies; the detail chosen for each place; the stock."""
