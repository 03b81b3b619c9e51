"""What each command does; `commission.__main__` only reads the command line."""
