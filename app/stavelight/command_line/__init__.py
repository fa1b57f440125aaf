"""The command line: one module a command, and the program that chooses between them.

A command module has a docstring whose first line is its summary, `EXAMPLES`, `add_arguments` and
`run`. What a command needs is imported when it runs, so that help comes at once.
"""
