"""What other programs read, as JSON under /api/v1/: nothing is written here.

`door` lets in who shows a token, and only then loads the rest, since the library behind it costs half a second and
some ten megabytes that the pages of the benches need not carry.
"""
