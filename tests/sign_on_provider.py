"""A sign-on provider of our own for tests: a live server on this machine that signs tokens, and can be told to lie."""

from __future__ import annotations

import base64
import hashlib
import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import jwt
from cryptography.hazmat.primitives.asymmetric import rsa

CLIENT, SECRET = "hornbook", "a-secret-of-the-test"


def new_key() -> Any:
    return rsa.generate_private_key(public_exponent=65537, key_size=2048)


KEY, OTHER_KEY = new_key(), new_key()


@dataclass
class Provider:
    """``claims`` and ``header`` override what a token says, ``key`` what signs it, ``config`` what it publishes."""

    issuer: str = ""
    subject: str = "account-7"
    email: str = "dana@district.example"
    claims: dict[str, Any] = field(default_factory=dict)
    header: dict[str, Any] = field(default_factory=dict)
    config: dict[str, Any] = field(default_factory=dict)
    key: Any = KEY
    algorithm: str = "RS256"
    is_down: bool = False
    answer: Any = None  # in place of the tokens
    codes: dict[str, dict[str, str]] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)

    def configuration(self) -> dict[str, Any]:
        named = {"authorization_endpoint": "/authorize", "token_endpoint": "/token", "jwks_uri": "/keys"}
        return {"issuer": self.issuer} | {name: self.issuer + path for name, path in named.items()} | self.config

    def keys(self) -> dict[str, Any]:
        read = json.loads(jwt.algorithms.RSAAlgorithm.to_jwk(KEY.public_key()))
        return {"keys": [read | {"kid": "one", "use": "sig", "alg": "RS256"}]}

    def grant(self, sent: dict[str, str]) -> str:
        """Somebody signs on: return the address that their browser is sent back to."""
        code = f"code-{len(self.codes)}"
        self.codes[code] = sent
        return f"{sent['redirect_uri']}?{urlencode({'code': code, 'state': sent['state']})}"

    def token(self, nonce: str) -> str:
        now = int(time.time())
        said = {"iss": self.issuer, "sub": self.subject, "aud": CLIENT, "iat": now, "exp": now + 300, "nonce": nonce}
        said |= {"email": self.email, "email_verified": True} | self.claims
        said = {name: value for name, value in said.items() if value is not None}
        return jwt.encode(said, self.key, algorithm=self.algorithm, headers={"kid": "one"} | self.header)

    def exchange(self, sent: dict[str, str]) -> tuple[int, Any]:
        asked = self.codes.pop(sent.get("code", ""), None)
        challenge = base64.urlsafe_b64encode(hashlib.sha256(sent.get("code_verifier", "").encode()).digest())
        if (
            asked is None
            or asked["code_challenge"] != challenge.rstrip(b"=").decode()
            or asked["redirect_uri"] != sent["redirect_uri"]
            or (sent["client_id"], sent["client_secret"]) != (CLIENT, SECRET)
        ):
            return 400, {"error": "invalid_grant"}
        if self.answer is not None:
            return 200, self.answer
        return 200, {"access_token": "unused", "token_type": "Bearer", "id_token": self.token(asked["nonce"])}

    def respond(self, path: str, sent: dict[str, str]) -> tuple[int, Any, str]:
        self.asked.append(path)
        if self.is_down:
            return 503, {}, ""
        if path == "/.well-known/openid-configuration":
            return 200, self.configuration(), ""
        if path == "/keys":
            return 200, self.keys(), ""
        if path == "/authorize":
            return 302, {}, self.grant(sent)
        if path == "/token":
            return *self.exchange(sent), ""
        return 404, {}, ""


class Handler(BaseHTTPRequestHandler):
    provider: Provider

    def reply(self, sent: dict[str, list[str]]) -> None:
        single = {name: values[0] for name, values in sent.items()}
        status, body, location = self.provider.respond(urlsplit(self.path).path, single)
        raw = json.dumps(body).encode()
        self.send_response(status)
        if location:
            self.send_header("Location", location)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(raw)))
        self.end_headers()
        self.wfile.write(raw)

    def do_GET(self) -> None:
        self.reply(parse_qs(urlsplit(self.path).query))

    def do_POST(self) -> None:
        self.reply(parse_qs(self.rfile.read(int(self.headers["Content-Length"])).decode()))

    def log_message(self, *args: Any) -> None:
        """Say nothing on the terminal."""


@contextmanager
def serving() -> Iterator[Provider]:
    provider = Provider()
    server = ThreadingHTTPServer(("127.0.0.1", 0), type("Bound", (Handler,), {"provider": provider}))
    provider.issuer = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield provider
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
