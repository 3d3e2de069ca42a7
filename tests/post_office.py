"""A mail server on this machine, for tests: it speaks as much SMTP as is needed, and can be in trouble."""

from __future__ import annotations

import socketserver
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from django.utils import timezone

from config.env import mail


@dataclass
class PostOffice:
    """What the server does, what was said to it, and the letters it took."""

    port: int = 0
    certificate: Path | None = None  # None: it offers no encryption
    tls_answer: str = "220 Go ahead"
    log_in_answer: str = "235 Welcome"
    rcpt_answer: str = "250 OK"
    said: list[str] = field(default_factory=list)
    letters: list[str] = field(default_factory=list)


class Conversation(socketserver.StreamRequestHandler):
    server: Any

    def say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())

    def handle(self) -> None:
        office, is_closed = self.server.office, False
        self.say("220 here")
        while line := self.rfile.readline().decode().rstrip():
            office.said.append(line)
            word = line.split(" ")[0].upper()
            if word == "EHLO":
                offers = ["here", *(["STARTTLS"] if office.certificate and not is_closed else []), "AUTH PLAIN"]
                for number, offer in enumerate(offers, start=1):
                    self.say(f"250{' ' if number == len(offers) else '-'}{offer}")
            elif word == "STARTTLS":
                self.say(office.tls_answer)
                if office.tls_answer.startswith("220"):
                    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
                    context.load_cert_chain(office.certificate)
                    self.request = context.wrap_socket(self.request, server_side=True)
                    self.rfile, self.wfile = self.request.makefile("rb"), self.request.makefile("wb", 0)
                    is_closed = True
            elif word == "AUTH":
                self.say(office.log_in_answer)
            elif word == "RCPT":
                self.say(office.rcpt_answer)
            elif word == "DATA":
                self.say("354 Go ahead")
                lines = iter(lambda: self.rfile.readline().decode(), ".\r\n")
                office.letters.append("".join(lines))
                self.say("250 Kept")
            elif word == "QUIT":
                self.say("221 Bye")
                return
            else:
                self.say("250 OK")

    def finish(self) -> None:
        with suppress(OSError):  # the other side is gone
            super().finish()
        self.request.close()  # the encrypted one takes the place of what the server would close


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    office: PostOffice

    def handle_error(self, *_: Any) -> None:
        """A client that will not trust the certificate hangs up: no news."""


@contextmanager
def open_post_office(office: PostOffice) -> Iterator[PostOffice]:
    with _Server(("127.0.0.1", 0), Conversation) as server:
        server.office, office.port = office, server.server_address[1]
        threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
        try:
            yield office
        finally:
            server.shutdown()


def make_certificate(folder: Path) -> Path:
    """Return a file with a certificate for 127.0.0.1, signed by itself, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "127.0.0.1")])
    now = timezone.now()
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, SHA256())
    )
    path = folder / "certificate.pem"
    path.write_bytes(
        made.public_bytes(Encoding.PEM) + key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    )
    return path


def hand_in_at(url: str, settings: Any) -> None:
    """Have letters handed in at an address, as HORNBOOK_EMAIL_URL names it."""
    settings.MAIL_IS_SET = True
    settings.DEFAULT_FROM_EMAIL = "hornbook@district.example"
    for name, value in mail(url).items():
        setattr(settings, name, value)
