#!/usr/bin/env bash
# An authority of the kitchen's own and a certificate for its broker, in the folder that is named.
#
#   deploy/mosquitto/make-certificates.sh FOLDER BROKER-NAME [BROKER-ADDRESS]
#
# Give ca.crt to every board ([mqtt] authorities); ca.key goes to a safe place, off the broker.
set -euo pipefail
folder=${1:?folder} name=${2:?name of the broker} address=${3:-127.0.0.1}
mkdir -p "$folder"
cd "$folder"
umask 077
openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 3650 \
    -subj "/CN=dekchi kitchen authority" -keyout ca.key -out ca.crt \
    -addext "basicConstraints=critical,CA:TRUE" -addext "keyUsage=critical,keyCertSign,cRLSign"
openssl req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -subj "/CN=$name" \
    -keyout server.key -out server.csr
openssl x509 -req -in server.csr -CA ca.crt -CAkey ca.key -CAcreateserial -days 825 -out server.crt \
    -extfile <(printf 'subjectAltName=DNS:%s,IP:%s\nextendedKeyUsage=serverAuth\n' "$name" "$address")
rm -f server.csr
chmod 644 ca.crt server.crt
