"""The score: its structure, its notes, and how it is read from files.

The file that a score is read from is only ever opened for reading.
"""
