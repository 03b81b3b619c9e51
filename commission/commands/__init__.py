"""What each command does; `commission.__main__` only reads the command line."""

FINE, FOUND, BAD_INPUT = 0, 1, 2
"""Exit status: nothing to report; a failure, stop or conflict was found; bad input."""
