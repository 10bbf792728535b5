"""A floor on the ground: headroom, how deep one may dig, foam under load, what it takes.

Plain functions of figures in SI; they know no house. Everything structural here is a first sizing: an
engineer decides.
"""
