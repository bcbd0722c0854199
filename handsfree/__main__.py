"""`python -m handsfree` is the command `handsfree`."""

from handsfree.cli import main

if __name__ == "__main__":
    main(prog_name="handsfree")
