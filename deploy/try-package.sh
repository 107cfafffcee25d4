#!/usr/bin/env bash
# Installs a package in a fresh Debian 13, runs the service there on emulated sensors as its unit
# would, upgrades, removes and purges it, and looks each time that the data are still there.
# Needs root and debootstrap.
#
#   sudo deploy/try-package.sh dist/dekchi_0.1.0-1_amd64.deb [ROOT]
set -euo pipefail
deb=$(realpath "${1:?a package}")
root=${2:-$(mktemp -d /var/tmp/dekchi-fresh.XXXXXX)}
mkdir -p "$root"
chmod 755 "$root"
mirror=${DEBIAN_MIRROR:-http://deb.debian.org/debian}
[ -e "$root/etc/debian_version" ] || debootstrap --variant=minbase \
    --include=systemd,udev,tzdata,ca-certificates,man-db trixie "$root" "$mirror"
within() { chroot "$root" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8 "$@"; }
step() { printf '\n== %s\n' "$1"; }

step "install"
cp "$deb" "$root/tmp/dekchi.deb"
within dpkg --install /tmp/dekchi.deb
within dekchi --version
within id dekchi
within stat -c '%U:%G %a %n' /etc/dekchi /etc/dekchi/kitchen.toml /var/lib/dekchi

step "the unit"
within systemd-analyze verify /usr/lib/systemd/system/dekchi.service
within systemd-analyze security --offline=true --threshold=20 \
    /usr/lib/systemd/system/dekchi.service | tail -n 1
within udevadm verify /usr/lib/udev/rules.d/60-dekchi.rules 2>&1 | tail -n 3 || true
within man -w dekchi dekchi-kitchen

run_for() {
    # As the unit does: the service's user and groups, and systemd's state directory. It must still be
    # there when it is told to stop.
    local ended=0
    within timeout --signal=TERM "$1" setpriv --reuid dekchi --regid dekchi --init-groups \
        env STATE_DIRECTORY=/var/lib/dekchi dekchi run --kitchen /etc/dekchi/kitchen.toml || ended=$?
    [ "$ended" = 124 ]
}
step "as it was unpacked: no sensors and no batch yet, so it idles"
run_for 5

step "emulated sensors: a probe's kernel files, a recorded load"
mkdir -p "$root/srv/w1/28-0316a2795f01"
printf '04 06 4b 46 7f ff 0c 10 53 : crc=53 YES\n04 06 4b 46 7f ff 0c 10 53 t=96250\n' \
    >"$root/srv/w1/28-0316a2795f01/w1_slave"
cp "$root/usr/share/doc/dekchi/examples/tuesday-base.toml" "$root/etc/dekchi/tuesday-base.toml"
awk 'BEGIN { print "t_s,load_kg,probe_c"; for (i = 0; i < 36000; i++) printf "%.1f,%.4f,\n", i / 10, 29.8 - i / 36000 }' \
    >"$root/etc/dekchi/load.csv"
cat >"$root/etc/dekchi/kitchen.toml" <<'TOML'
[site]
altitude_m = 40.0
[board]
onewire_root = "/srv/w1"
[[pot]]
name = "big"
base_diameter_m = 0.40
tare_kg = 6.2
lid_kg = 1.35
batch = "tuesday-base.toml"
[pot.sensors]
probe = "28-0316a2795f01"
recording = "load.csv"
TOML
chmod 640 "$root"/etc/dekchi/*.toml "$root/etc/dekchi/load.csv"
chown -R --reference="$root/etc/dekchi" "$root/etc/dekchi"
within dekchi check /etc/dekchi/kitchen.toml

step "run for 15 s, as the user of the service"
run_for 15
within dekchi batches

step "upgrade to the same package: data and the edited kitchen file stay"
sum=$(sha256sum <"$root/etc/dekchi/kitchen.toml")
within dpkg --install --force-confold /tmp/dekchi.deb
[ "$(sha256sum <"$root/etc/dekchi/kitchen.toml")" = "$sum" ]
run_for 5
within dekchi batches

step "remove"
within dpkg --remove dekchi
test -s "$root/var/lib/dekchi/dekchi.sqlite"
test -s "$root/etc/dekchi/kitchen.toml"
step "purge"
within dpkg --purge dekchi
test -s "$root/var/lib/dekchi/dekchi.sqlite"
test ! -e "$root/usr/bin/dekchi"
echo "removed and purged; the batches are still there:"
ls -l "$root/var/lib/dekchi"
