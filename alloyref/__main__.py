"""`python -m alloyref`."""

from alloyref.cli import main

if __name__ == "__main__":  # a spawned worker imports this module again and must not start over
    main(prog_name="alloyref")
