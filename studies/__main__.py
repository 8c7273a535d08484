"""`python -m icecone.studies` is the console script `icecone`."""

from .cli import main

if __name__ == "__main__":
    main(prog_name="icecone")
