"""A real SMTP server (aiosmtpd) on loopback: TLS from the first byte, and STARTTLS with a login.

Usage: mail_server.py DIRECTORY. Writes DIRECTORY/ca.pem, the authority of its own certificate for
"localhost"; prints one line with both ports; then one line of JSON a message.
"""

import datetime
import json
import pathlib
import socket
import ssl
import sys

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

directory = pathlib.Path(sys.argv[1])


def named(common_name):
    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, common_name)])


def certificate(subject, key, issuer, issuer_key, extensions):
    now = datetime.datetime.now(datetime.timezone.utc)
    builder = (
        x509.CertificateBuilder()
        .subject_name(named(subject))
        .issuer_name(named(issuer))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))
        .not_valid_after(now + datetime.timedelta(days=1))
    )
    for extension, critical in extensions:
        builder = builder.add_extension(extension, critical)
    return builder.sign(issuer_key, hashes.SHA256())


authority_key = ec.generate_private_key(ec.SECP256R1())
server_key = ec.generate_private_key(ec.SECP256R1())
authority = certificate(
    "harbour authority", authority_key, "harbour authority", authority_key,
    [(x509.BasicConstraints(ca=True, path_length=0), True)],
)
server = certificate(
    "localhost", server_key, "harbour authority", authority_key,
    [(x509.SubjectAlternativeName([x509.DNSName("localhost")]), False)],
)
pem = serialization.Encoding.PEM
(directory / "ca.pem").write_bytes(authority.public_bytes(pem))
(directory / "server.pem").write_bytes(
    server_key.private_bytes(
        pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    + server.public_bytes(pem)
)
context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
context.load_cert_chain(directory / "server.pem")


class Handler:
    def __init__(self, way):
        self.way = way

    async def handle_DATA(self, server, session, envelope):
        said = {
            "way": self.way,
            "from": envelope.mail_from,
            "to": envelope.rcpt_tos,
            "tls": server.transport.get_extra_info("ssl_object") is not None,
            "text": envelope.content.decode(),
        }
        print(json.dumps(said), flush=True)
        return "250 taken"


def authenticator(server, session, envelope, mechanism, login):
    known = (login.login, login.password) == (b"pots", b"pass word")
    return AuthResult(success=known, handled=False)


def free_port():
    """The controller tries the port that it was given, so it must be given one."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


whole = Controller(Handler("whole"), hostname="127.0.0.1", port=free_port(), ssl_context=context)
starttls = Controller(
    Handler("starttls"), hostname="127.0.0.1", port=free_port(), tls_context=context,
    require_starttls=True, auth_required=True, authenticator=authenticator,
)

for controller in (whole, starttls):
    controller.start()

print(whole.port, starttls.port, flush=True)
sys.stdin.read()
