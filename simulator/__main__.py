"""``python -m simulator`` is the same program as the command ``buildgap``."""

from simulator.cli.main import run

if __name__ == "__main__":
    run()
