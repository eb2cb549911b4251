"""`python -m headrace` is the same as the `headrace` command."""

from headrace.cli import main

if __name__ == "__main__":
    main()
