"""Clothpath: appliqué drawings in, proved cut files out."""
