"""Readers: bytes of a drawing in, a Design out."""
