"""What can be bought: generic products and materials, each value with its source."""
