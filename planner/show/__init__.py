"""Faces: a Plan becomes text or bytes; nothing is decided here."""
