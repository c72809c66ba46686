"""Writes the fixtures of the round-trip test with Python's nbformat.

    /usr/bin/python3 make.py          (Debian 12: python3-nbformat 5.5.0)

every.ipynb holds what a writer can get wrong. parts.ipynb is the same content
in another order and form (keys unsorted, strings whole, numbers as typed), as
another program may write it: nbformat reads it and writes every.ipynb.
"""
import json
import nbformat
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output, new_raw_cell

every_break = "a\nb\r\nc\rd\ve\ff\x1cg\x1dh\x1ei\x85j\u2028k\u2029l"
nasty = "quote \" back \\ slash / less < more > amp & tab \t bell \x07 nul \x00 del \x7f é \U0001f50a"

cells = [
    new_markdown_cell("# Title & more\n\nText with <b>tags</b>, $x < y$ and é.", id="intro", attachments={
        "dot.png": {"image/png": "iVBORw0KGgo="},
        "note.txt": {"text/plain": "two\nlines"},
    }),
    new_code_cell("", id="empty"),
    new_code_cell("a := 1\nb := 2\n", id="tail-newline", metadata={"tags": ["parameters", "x"], "zeta": {"b": 1, "a": [1, 2.0, {}, [], None, True]}}),
    new_code_cell(every_break, id="breaks", execution_count=3, outputs=[
        new_output("stream", name="stdout", text=every_break + "\n"),
        new_output("stream", name="stderr", text=""),
        new_output("display_data", {
            "text/plain": nasty + "\n" + nasty,
            "text/html": "<table>\n<tr><td>1</td></tr>\n</table>",
            "text/markdown": "**b**\n",
            "text/latex": "$x$",
            "image/svg+xml": "<svg xmlns=\"http://www.w3.org/2000/svg\">\n<path d=\"M0,0\"/>\n</svg>\n",
            "image/png": "iVBORw0KGgo=\nAAAA\n",
            "application/javascript": "a();\nb();",
            "application/pdf": "JVBE\nRi0=",
            "application/vnd.example.v1+json": {
                "z": ["one\ntwo", "three"], "a": "one\ntwo", "é": 1, "\U0001f50a": 2, "\uffff": 3,
                "numbers": [0, -1, 12345678901234567890123, 0.0, -0.0, 1.0, 0.1, 1e-4, 0.00012345, 1e-5, 1.5e-7,
                            1e15, 1e16, 1.5e16, 123456789012345680.0, 1e22, 1e100, 1.7976931348623157e308, 5e-324,
                            2.2250738585072014e-308, 100, 1e2],
            },
            "application/json": ["only", "strings\nhere"],
        }, metadata={"image/png": {"width": 640, "needs_background": "light"}, "zoom": 1.5}),
        new_output("execute_result", {"text/plain": "3"}, execution_count=3),
        new_output("error", ename="Panic", evalue=nasty, traceback=["one\ntwo", "\x1b[0;31mred\x1b[0m", ""]),
    ]),
    new_code_cell("no outputs", id="A_b-9", execution_count=0),
    new_raw_cell("raw\n", id="raw", metadata={"format": "text/html"}),
    new_markdown_cell("x" * 10, id="last"),
]
nb = new_notebook(cells=cells, metadata={
    "kernelspec": {"name": "loudspeaker", "display_name": "Go (loudspeaker)", "language": "go"},
    "language_info": {"name": "go", "file_extension": ".go", "mimetype": "", "codemirror_mode": "", "version": "go1.26"},
    "title": "ümlaut", "own": {"deep": {"deeper": [[], {}, [[1]], {"k": ""}]}},
})
nbformat.validate(nb)
nbformat.write(nb, "every.ipynb")
with open("parts.ipynb", "w", encoding="utf-8") as f:
    f.write(json.dumps(nb, ensure_ascii=True, indent=None, sort_keys=False))
again = nbformat.read("parts.ipynb", as_version=4)
assert nbformat.writes(again) + "\n" == open("every.ipynb", encoding="utf-8").read()

nbformat.write(new_notebook(), "empty.ipynb")
