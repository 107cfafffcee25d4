#!/usr/bin/env bash
# Builds the arm64 and amd64 packages of this commit in a Debian 13 of its own, so that what is
# linked is what Debian 13 and Raspberry Pi OS have. Needs root, debootstrap and qemu-user-static.
#
#   sudo deploy/build-arm64.sh [--root /var/tmp/dekchi-trixie] [--out dist]
#
# The root is kept, so that a second run takes minutes; delete it for a clean one.
set -euo pipefail
cd "$(dirname "$0")/.."

root=/var/tmp/dekchi-trixie
out=dist
mirror=${DEBIAN_MIRROR:-http://deb.debian.org/debian}
while [ $# -gt 0 ]; do
    case "$1" in
    --root) root=$2; shift 2 ;;
    --out) out=$2; shift 2 ;;
    *) echo "usage: $0 [--root DIR] [--out DIR]" >&2; exit 2 ;;
    esac
done
arm=aarch64-unknown-linux-gnu
amd=x86_64-unknown-linux-gnu

if [ ! -e "$root/etc/debian_version" ]; then
    debootstrap --variant=minbase trixie "$root" "$mirror"
fi
within() { chroot "$root" /usr/bin/env -i HOME=/root PATH=/root/.cargo/bin:/usr/bin:/bin:/usr/sbin:/sbin LC_ALL=C.UTF-8 "$@"; }

# Names and certificates of the machine outside; a proxy's own authority comes with them.
cp /etc/resolv.conf "$root/etc/resolv.conf"
within dpkg --add-architecture arm64
within apt-get update -q
within env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends \
    cargo rustc libstd-rust-dev:arm64 gcc libc6-dev gcc-aarch64-linux-gnu libc6-dev-arm64-cross \
    ca-certificates xz-utils
cp /etc/ssl/certs/ca-certificates.crt "$root/etc/ssl/certs/ca-certificates.crt"
within rustc --version

rm -rf "$root/build/source"
mkdir -p "$root/build/source"
git archive HEAD | tar -x -C "$root/build/source"
# Made at the commit's own time, so that the same commit gives the same bytes.
epoch=$(git log -1 --format=%ct)

build() {
    within env \
        CARGO_TARGET_DIR=/build/target \
        CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc \
        CC_aarch64_unknown_linux_gnu=aarch64-linux-gnu-gcc \
        SOURCE_DATE_EPOCH="$epoch" \
        bash -c "cd /build/source && $1"
}
for target in "$amd" "$arm"; do
    build "cargo build --release --locked --bin dekchi --target $target"
done

# What the package says that it needs is what is linked, and it is small enough for a card.
for target in "$amd" "$arm"; do
    binary="$root/build/target/$target/release/dekchi"
    needs=$(strings -a "$binary" | grep -oE '^GLIBC_2\.[0-9]+$' | sort -Vu | tail -n 1 | cut -d_ -f2)
    grep -q "libc6 (>= $needs)" Cargo.toml || { echo "$target needs libc6 >= $needs: write it in Cargo.toml" >&2; exit 1; }
    [ "$(stat -c %s "$binary")" -le 12000000 ] || { echo "$target is over 12 MB" >&2; exit 1; }
done

# 3.6.3 is the newest that Debian 13's rustc 1.85 compiles (3.7 and 3.8 say they do and do not).
build "command -v cargo-deb >/dev/null || cargo install --locked --version 3.6.3 cargo-deb"
mkdir -p "$out"
for target in "$amd" "$arm"; do
    build "cargo deb --no-build --no-strip --locked --target $target --output /build/"
done
mv "$root"/build/dekchi_*.deb "$out/"

# Under emulation the program for the other processor judges virtual batches and measured loads
# (tests/data) as this one does, byte for byte.
on_arm() { qemu-aarch64-static -L "$root/usr/aarch64-linux-gnu" "$root/build/target/$arm/release/dekchi" "$@"; }
on_amd() { chroot "$root" "/build/target/$amd/release/dekchi" "$@"; }
alike() {
    on_amd replay "/build/trial/$1.csv" --kitchen "/build/trial/$2.kitchen.toml" --batch "/build/trial/$2.batch.toml" >"$trial/amd"
    on_arm replay "$trial/$1.csv" --kitchen "$trial/$2.kitchen.toml" --batch "$trial/$2.batch.toml" >"$trial/arm"
    [ -s "$trial/amd" ] || { echo "$1: nothing was said of it" >&2; exit 1; }
    cmp "$trial/amd" "$trial/arm"
    echo "$1: $(wc -l <"$trial/arm") lines alike"
}
on_arm --version
trial=$root/build/trial
rm -rf "$trial"
for kind in reduce whole tended neglect; do
    on_amd practise --kind "$kind" --seed 7 -o /build/trial >/dev/null
    alike "$kind-7" "$kind-7"
done
for run in tests/data/mass_loss_cone/*.csv; do
    name=$(basename "$run" .csv)
    awk -F, 'NR == 1 { print "t_s,probe_c,load_kg" } NR > 5 { printf "%.1f,,%.4f\n", $1, 3.1 + 0.05 * $2 }' "$run" >"$trial/$name.csv"
    alike "$name" reduce-7
done
ls -l "$out"
