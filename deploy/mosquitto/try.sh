#!/usr/bin/env bash
# Proves the broker's files with the real broker: a board speaks for itself alone, over TLS alone.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
broker=
trap '[ -n "$broker" ] && kill "$broker"; rm -rf "$work"' EXIT
port=$((20000 + RANDOM % 20000))

bash "$here/make-certificates.sh" "$work/tls" localhost 127.0.0.1 2>/dev/null
touch "$work/passwords"
for user in stove-1 stove-2 office; do
    mosquitto_passwd -b "$work/passwords" "$user" "$user-secret" 2>/dev/null
done
sed -e "s|/etc/mosquitto/dekchi/passwords|$work/passwords|" \
    -e "s|/etc/mosquitto/dekchi/dekchi.acl|$here/dekchi.acl|" \
    -e "s|/etc/mosquitto/dekchi/|$work/tls/|" \
    -e "s|^listener 8883|listener $port 127.0.0.1|" \
    -e "s|^persistence true|persistence false|" "$here/dekchi.conf" >"$work/mosquitto.conf"
[ "$(id -u)" = 0 ] && echo "user root" >>"$work/mosquitto.conf"
chmod 600 "$work/passwords"
mosquitto -c "$work/mosquitto.conf" >"$work/log" 2>&1 &
broker=$!
for _ in $(seq 50); do (: </dev/tcp/127.0.0.1/"$port") 2>/dev/null && break; sleep 0.1; done

tls=(-h localhost -p "$port" --cafile "$work/tls/ca.crt" -V mqttv5)
as() { echo "-u $1 -P $1-secret"; }
fail() { echo "not as it should be: $1" >&2; cat "$work/log" >&2; exit 1; }
# shellcheck disable=SC2046
hears() { mosquitto_sub "${tls[@]}" $(as office) -t "$1" -C 1 -W 2 2>/dev/null; }
# shellcheck disable=SC2046
says() { mosquitto_pub "${tls[@]}" $(as "$1") -q 1 -r -t "$2" -m "$3" 2>&1; }

says stove-1 dekchi/stove-1/big/reading own >/dev/null || fail "a board cannot speak for itself"
[ "$(hears dekchi/stove-1/big/reading)" = own ] || fail "the office does not hear the board"
says stove-2 dekchi/stove-1/big/reading forged >/dev/null || true
[ "$(hears dekchi/stove-1/big/reading)" = own ] || fail "one board speaks for another"
says stove-1 homie/5/stove-1/big/contents 20.1 >/dev/null || fail "a board cannot speak by Homie"
says stove-2 homie/5/stove-1/big/contents 9.9 >/dev/null || true
[ "$(hears homie/5/stove-1/big/contents)" = 20.1 ] || fail "one board speaks for another by Homie"
says office dekchi/stove-1/big/set stirred >/dev/null || true
[ -z "$(hears dekchi/stove-1/big/set || true)" ] || fail "the office commands"
mosquitto_pub "${tls[@]}" -t dekchi/x -m y 2>/dev/null && fail "somebody without a name is let in"
mosquitto_pub "${tls[@]}" -u stove-1 -P wrong -t dekchi/x -m y 2>/dev/null && fail "a wrong password is let in"
mosquitto_pub -h localhost -p "$port" -u stove-1 -P stove-1-secret -t dekchi/x -m y 2>/dev/null &&
    fail "it speaks in clear"
echo "broker: a board speaks for itself alone, the office only reads, TLS and a password are needed"
