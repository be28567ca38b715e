"""The command line. ``main.py`` holds the one place where errors are caught."""
