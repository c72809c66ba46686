#!/bin/sh
# Writes executed.ipynb with Debian 12's nbconvert 6.5.3 through the kernel:
#   sh executed.sh /path/to/gonb
# (go and goimports on the PATH). The notebook is executed in a folder of its own.
set -eu
gonb=$1
here=$(cd "$(dirname "$0")" && pwd)
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
mkdir -p "$tmp/kernels/loudspeaker" "$tmp/work"
cat >"$tmp/kernels/loudspeaker/kernel.json" <<JSON
{"argv": ["$gonb", "--kernel", "{connection_file}", "-raw_error=true"], "display_name": "Go (loudspeaker)", "language": "go"}
JSON
cd "$tmp/work"
/usr/bin/python3 - <<'PY'
import nbformat
from nbformat.v4 import new_code_cell as code, new_markdown_cell as text, new_notebook
nbformat.write(new_notebook(cells=[
    text("# Executed\n\n$E = mc^2$ & more", id="head"),
    code("%noautoget\nimport \"fmt\"\nfunc half(x float64) float64 { return x / 2 }", id="func"),
    code("%%\nfmt.Println(\"½ <of> 3 &\", half(3))\nfmt.Println(\"tab\\tend\")", id="print", metadata={"tags": ["parameters"]}),
    code("import \"os\"\n%%\nfmt.Fprintln(os.Stderr, \"to stderr\")", id="stderr"),
    code("%%\nvar p []int\nfmt.Println(p[3])", id="panic", metadata={"tags": ["raises-exception"]}),
], metadata={"kernelspec": {"name": "loudspeaker", "display_name": "Go (loudspeaker)", "language": "go"}}), "in.ipynb")
PY
JUPYTER_PATH=$tmp jupyter nbconvert --to notebook --execute \
    --ExecutePreprocessor.record_timing=False --output executed.ipynb in.ipynb
cp executed.ipynb "$here/executed.ipynb"
