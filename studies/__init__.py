"""What a user does: describe a case, solve it, vary it, compare it with measured pulls, look at it.

`command` is the command line, `icecone` the package that users import. Both go through `case`, `outcome` and `sweep`.
Pictures, words and tables read outcomes only. Nothing in `fem`, `geometry` or `materials` imports this room.
"""
