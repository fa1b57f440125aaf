"""Engraving: pages and excerpts of a score, drawn by verovio in processes of their own.

This floor knows bars, staves and millimetres; it knows nothing of what people write about them.
"""
