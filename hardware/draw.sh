#!/usr/bin/env bash
# Draws the wiring and the platform anew from their text: wiring/*.yml by WireViz and Graphviz,
# platform.svg by platform.py. Each drawing ends with the digest of the text that it was drawn from,
# which a test compares.
#
#   pip install wireviz==0.4.1; apt-get install graphviz; hardware/draw.sh
set -euo pipefail
cd "$(dirname "$0")"
stamp() { printf '<!-- drawn from sha256:%s -->\n' "$(sha256sum <"$1" | cut -d' ' -f1)" >>"$2"; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
for source in wiring/*.yml; do
    name=$(basename "$source" .yml)
    "${WIREVIZ:-wireviz}" -f s -o "$work" "$source"
    # Without the file's own path, which differs from machine to machine.
    sed '/^<!-- Title: /d' "$work/$name.svg" >"wiring/$name.svg"
    stamp "$source" "wiring/$name.svg"
done
python3 platform.py >platform.svg
stamp platform.py platform.svg
