"""Lays the pieces of designs on swatches and the swatches on mats: the two levels of a layout, solved together."""
