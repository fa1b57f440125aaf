"""The annotation layer: what people write about a score, apart from the score.

This floor knows bars and staves, never pixels. Everything in it is a frozen value: an edit makes
a new layer, and undo goes back to the old one.
"""
