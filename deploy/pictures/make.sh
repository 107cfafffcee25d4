#!/bin/sh
# Draws the pictures of the README from virtual batches, the same on every machine:
#     sh deploy/pictures/make.sh
set -eu
cd "$(dirname "$0")/../.."
kept=$(mktemp -d)
trap 'rm -rf "$kept"' EXIT
export TZ=UTC
dekchi() {
    if [ -n "${DEKCHI:-}" ]; then "$DEKCHI" "$@"; else cargo run --quiet --release --locked -- "$@"; fi
}
to=deploy/pictures

dekchi demo --seed 14 --speed 3600 --keep "$kept/demo" >/dev/null
curve() { dekchi curve 1 --store "$kept/demo/dekchi.sqlite" "$@"; }
curve --until 2h16 -o "$to/curve.png"
curve --until 2h16 -o "$to/curve-dark.png" --dark
curve --until 2h16 -o "$to/phone.png" --width 400

dekchi practise --kind reduce --seed 6 --count 4 --load-hz 1 --no-faults -o "$kept" >/dev/null
dekchi compare "$kept"/reduce-[6-9].csv --align boil -o "$to/compare.png"
