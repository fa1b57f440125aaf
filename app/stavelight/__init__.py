"""Stavelight: a workstation for teaching and researching orchestration from full scores."""

__version__ = "0.1.0"
