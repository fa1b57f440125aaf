"""The sample score: composed, scored, checked and written out by this package.

From the folder ``resources``: ``python -m sample_score.compose`` writes the files anew.
"""
