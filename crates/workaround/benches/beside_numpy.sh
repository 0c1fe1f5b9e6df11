#!/usr/bin/env bash
# The workaround search beside the same search in NumPy vectors, in turns on the same machine.
# NumPy goes into a virtual environment of its own under target/.
set -euo pipefail
cd "$(dirname "$0")/../../.."

venv=target/numpy
[ -x "$venv/bin/python" ] || python3 -m venv "$venv"
"$venv/bin/python" -c 'import numpy' 2>/dev/null || "$venv/bin/pip" install -q numpy
cargo build -q --release -p backporch-workaround --benches

ours=$(mktemp) theirs=$(mktemp)
trap 'rm -f "$ours" "$theirs"' EXIT
cargo bench -q -p backporch-workaround --bench workaround | tee "$ours"
"$venv/bin/python" crates/workaround/benches/workaround_numpy.py | tee "$theirs"

if ! diff <(grep -E '^(holds|clean)' "$ours") <(grep -E '^(holds|clean)' "$theirs"); then
    echo "crates/workaround/benches/beside_numpy.sh: the two searches disagree" >&2
    exit 1
fi
awk '/ us$/ { times[++n] = $(NF-1) } END { printf "  NumPy / search %37.1f    aim: at least 50\n", times[2] / times[1] }' "$ours" "$theirs"
