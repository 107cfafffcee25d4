"""A browser's side of Web Push by http_ece and py_vapid.

Prints the browser's keys as the JSON of a PushSubscription; then reads a sealed body as base64url, and
an Authorization header with the audience that it must have; prints what it opens, and whether the
token is sound.
"""

import base64
import json
import os
import sys

import http_ece
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from py_vapid import Vapid02


def encoded(data):
    return base64.urlsafe_b64encode(data).decode().rstrip("=")


def decoded(text):
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


key, auth = ec.generate_private_key(ec.SECP256R1()), os.urandom(16)
point = key.public_key().public_bytes(
    serialization.Encoding.X962, serialization.PublicFormat.UncompressedPoint
)
keys = {"p256dh": encoded(point), "auth": encoded(auth)}
print(json.dumps({"endpoint": "https://push.harbour.example/1", "keys": keys}), flush=True)

body = decoded(sys.stdin.readline().strip())
text = http_ece.decrypt(body, private_key=key, auth_secret=auth, version="aes128gcm")
print(text.decode(), flush=True)
print(Vapid02.verify(sys.stdin.readline().strip()), flush=True)
