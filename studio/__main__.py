"""Lets `python -m studio` do what `stripewright` does."""

from studio.cli.main import run

if __name__ == "__main__":
    run()
