"""The command line. ``main.py`` holds the one place where errors are caught.

May import everything. Start reading at ``main.py`` (the list of commands); each command is a
file ``cmd_<name>.py``, options that several share stand in ``shared.py``.
"""
