"""One page of an answer: a results folder as a single HTML file that opens anywhere, without a server or a request.

`build` knows which kind of answer a folder holds and asks the module of that kind for a `page.Page`, plain data;
`render` makes the file of it with the templates and assets beside it. Nothing is solved here.
"""
