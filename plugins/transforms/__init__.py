"""Transforms: design steps, layout steps and path steps."""
