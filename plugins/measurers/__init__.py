"""Measurers: bytes of a written file in, the outlines it holds out, by code the writers do not share."""
