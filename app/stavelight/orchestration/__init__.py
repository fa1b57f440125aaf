"""What the score says about its own orchestration: findings, each with its evidence.

This floor reads the score and proposes; it knows nothing of pages, annotations or Qt.
"""
