"""Meters that the county lends: out, due back, reminded of, back again."""
