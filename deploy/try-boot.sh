#!/usr/bin/env bash
# Boots a Debian 13 of its own with systemd as its first process, installs a package there, and looks
# at the service as systemd runs it: ready, confined, killed, hung, stopped, misconfigured, without its
# bus, upgraded, with a broker as the guide sets it up, and after a restart of the whole. A probe's kernel
# files stand in for sensors, and the scale is one that was never calibrated. Needs root, debootstrap and
# systemd-container. About 5 minutes.
#
#   sudo deploy/try-boot.sh dist/dekchi_0.1.0-1_amd64.deb [ROOT]
set -euo pipefail
deb=$(realpath "${1:?a package}")
root=${2:-$(mktemp -d /var/tmp/dekchi-boot.XXXXXX)}
mkdir -p "$root"
chmod 755 "$root"
mirror=${DEBIAN_MIRROR:-http://deb.debian.org/debian}
[ -e "$root/etc/debian_version" ] || debootstrap --variant=minbase \
    --include=systemd,systemd-sysv,udev,dbus,tzdata,ca-certificates,procps,man-db,sqlite3,openssl,mosquitto,mosquitto-clients \
    trixie "$root" "$mirror"
leader=
nspawn=
within() { nsenter --target "$leader" --all --root --wd /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8 "$@"; }
step() { printf '\n== %s\n' "$1"; }
show() { within systemctl show dekchi -P "$1"; }
die() {
    echo "not as it should be: $1" >&2
    within systemctl status --no-pager --full dekchi >&2 || true
    exit 1
}
# Waits until a command succeeds, for at most so many seconds.
until_true() {
    local seconds=$1
    shift
    for _ in $(seq "$seconds"); do
        if "$@"; then return 0; fi
        sleep 1
    done
    die "$*"
}
is() { [ "$(show "$1")" = "$2" ]; }
is_another() { [ "$(show MainPID)" != "$1" ] && is ActiveState active && is SubState running; }
said() { within journalctl -u dekchi -o cat --no-pager | grep -qF -- "$1"; }

boot() {
    systemd-nspawn --quiet --register=no --keep-unit --directory="$root" --boot --console=passive \
        >"$root.console" 2>&1 &
    nspawn=$!
    for _ in $(seq 60); do
        leader=$(pgrep -P "$nspawn" | head -n 1 || true)
        if [ -n "$leader" ] && within systemctl is-system-running 2>/dev/null | grep -qE 'running|degraded'; then
            return
        fi
        sleep 1
    done
    cat "$root.console" >&2
    echo "it did not boot" >&2
    exit 1
}
halt() {
    [ -n "$nspawn" ] || return 0
    within systemctl --no-block poweroff 2>/dev/null || true
    for _ in $(seq 60); do
        kill -0 "$nspawn" 2>/dev/null || break
        sleep 1
    done
    kill -KILL "$nspawn" 2>/dev/null || true
    wait "$nspawn" 2>/dev/null || true
    nspawn=
}
trap halt EXIT

[ -e "$root/etc/hosts" ] || echo "127.0.0.1 localhost" >"$root/etc/hosts"

step "boot, install"
boot
within systemctl --version | head -n 1
cp "$deb" "$root/root/dekchi.deb"
within dpkg --install /root/dekchi.deb
within systemd-analyze verify /usr/lib/systemd/system/dekchi.service
within systemd-analyze security --threshold=20 dekchi.service | tail -n 1

step "a probe, a scale that was never calibrated, a batch"
mkdir -p "$root/srv/w1/28-0316a2795f01"
printf '04 06 4b 46 7f ff 0c 10 53 : crc=53 YES\n04 06 4b 46 7f ff 0c 10 53 t=96250\n' \
    >"$root/srv/w1/28-0316a2795f01/w1_slave"
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
batch = "/var/lib/dekchi/big.toml"
[pot.sensors]
probe = "28-0316a2795f01"
scale = "nau7802"
TOML
within systemctl enable --now dekchi
is ActiveState active || die "it is not active"
within install -o dekchi -g dekchi -m 640 \
    /usr/share/doc/dekchi/examples/tuesday-base.toml /var/lib/dekchi/big.toml
until_true 30 said 'batch "Tuesday base" begins'
until_true 30 said "it was never calibrated, so the pot is watched without it"
show StatusText

step "as whom, and what it may"
pid=$(show MainPID)
[ "$(ps -o user= -p "$pid" --no-headers | tr -d ' ')" != root ] || die "it runs as root"
grep -E '^(Uid|Gid|Groups|CapEff|CapBnd|NoNewPrivs|Seccomp):' "/proc/$(pgrep --nslist pid --ns "$leader" -x dekchi | head -n 1)/status"
within id dekchi
within stat -c '%U:%G %a %n' /etc/dekchi /etc/dekchi/kitchen.toml /var/lib/dekchi /var/lib/dekchi/dekchi.sqlite
[ "$(within stat -c '%U %a' /var/lib/dekchi)" = "dekchi 750" ] || die "the state directory"

step "killed: it comes back, and the batch goes on"
count() { within sqlite3 /var/lib/dekchi/dekchi.sqlite "SELECT count(*) FROM $1"; }
has_samples() { [ "$(count samples)" -ge 2 ]; }
until_true 60 has_samples
within kill -KILL "$pid"
until_true 20 is_another "$pid"
until_true 20 said 'batch 1 "Tuesday base" goes on'
echo "restarts: $(show NRestarts)"

step "hung: its watchdog ends it within a minute or so, and it comes back"
pid=$(show MainPID)
within kill -STOP "$pid"
until_true 120 is_another "$pid"
within journalctl -u dekchi -o cat --no-pager | grep -i watchdog | tail -n 2

step "a broker as the guide sets it up: TLS, a password a board, the login lent by systemd"
within sh -ec 'cd /usr/share/doc/dekchi/mosquitto
    ./make-certificates.sh /etc/mosquitto/dekchi localhost 2>/dev/null
    install -m 644 dekchi.acl /etc/mosquitto/dekchi/
    mosquitto_passwd -b -c /etc/mosquitto/dekchi/passwords stove-1 stove-secret
    mosquitto_passwd -b /etc/mosquitto/dekchi/passwords office office-secret
    chown -R mosquitto: /etc/mosquitto/dekchi
    install -m 644 dekchi.conf /etc/mosquitto/conf.d/
    systemctl restart mosquitto
    install -m 644 /etc/mosquitto/dekchi/ca.crt /etc/dekchi/ca.crt
    mkdir -p /etc/credstore
    printf "stove-1\nstove-secret\n" | install -m 600 /dev/stdin /etc/credstore/dekchi.mqtt'
printf '\n[mqtt]\nhost = "localhost"\ntls = true\nauthorities = "ca.crt"\nboard = "stove-1"\n' \
    >>"$root/etc/dekchi/kitchen.toml"
heard() {
    within mosquitto_sub -h localhost -p 8883 --cafile /etc/dekchi/ca.crt -u office -P office-secret \
        -t "$1" -C 1 -W 5
}
tells() { heard dekchi/stove-1/status | grep -qF -- "$1"; }
within systemctl restart dekchi
until_true 60 tells '"online"'
heard dekchi/stove-1/big/reading
within systemctl stop dekchi
until_true 10 tells '"disconnected"'
within systemctl start dekchi

step "upgraded while it runs: it starts anew with what was installed"
pid=$(show MainPID)
within dpkg --install --force-confold /root/dekchi.deb
until_true 20 is_another "$pid"

step "started anew as a whole: it comes up by itself"
halt
boot
until_true 30 is SubState running
echo "ready after $(($(show ActiveEnterTimestampMonotonic) - $(show ExecMainStartTimestampMonotonic))) µs"

step "stopped: clean"
within systemctl stop dekchi
[ "$(show Result) $(show ExecMainStatus)" = "success 0" ] || die "it did not end well"
within dekchi batches --store /var/lib/dekchi/dekchi.sqlite

step "without its bus (status 69): tried ever more slowly, and up by itself once it is there"
sed -i 's/^onewire_root.*/&\nbarometer = true\niio_root = "\/srv\/iio"/' "$root/etc/dekchi/kitchen.toml"
rm -rf "$root/srv/iio"
starts=$(count starts)
within systemctl reset-failed dekchi
within systemctl start dekchi || true
for _ in $(seq 18); do
    printf '%s %s; ' "$(show NRestarts)" "$(show RestartUSecNext)"
    sleep 5
done
echo
is ExecMainStatus 69 || die "not 69"
[ "$(show NRestarts)" -le 8 ] || die "started anew too often"
[ "$(count starts)" = "$starts" ] || die "an attempt wrote to the store"
mkdir -p "$root/srv/iio/iio:device0"
echo 101.3 >"$root/srv/iio/iio:device0/in_pressure_input"
until_true 60 is SubState running

step "a kitchen file that is wrong (status 78): it stays down until a person has looked"
within systemctl stop dekchi
echo 'colour = "blue"' >>"$root/etc/dekchi/kitchen.toml"
within systemctl start dekchi || true
sleep 8
[ "$(show ActiveState) $(show ExecMainStatus) $(show NRestarts)" = "failed 78 0" ] || die "not down"
within journalctl -u dekchi -o cat --no-pager | grep -F colour | tail -n 1

step "removed"
within dpkg --purge dekchi
within test -s /var/lib/dekchi/dekchi.sqlite
echo "all as it should be"
