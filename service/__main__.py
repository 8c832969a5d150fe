"""`python -m service`: the command line, wherever the script is not on the path."""

from service.cli import main

main()
