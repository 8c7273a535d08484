"""`python -m icecone` is the console script `icecone`."""

from icecone.studies.command.main import main

if __name__ == "__main__":
    main(prog_name="icecone")
