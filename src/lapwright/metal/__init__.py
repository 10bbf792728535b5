"""Bent sheet metal: profiles, flat patterns, an order of bends a simple brake can do, coil plans.

Pure geometry in metres and degrees; knows no house.
"""
