"""A passkey in software, for tests that need no browser: it answers a challenge as an authenticator would."""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from fido2.cose import ES256
from fido2.utils import websafe_encode
from fido2.webauthn import Aaguid, AttestationObject, AttestedCredentialData, AuthenticatorData

PRESENT, WITH_KEY = AuthenticatorData.FLAG.UP | AuthenticatorData.FLAG.UV, AuthenticatorData.FLAG.AT


@dataclass
class SoftPasskey:
    """One key for one site; ``origin`` is what the browser would say of the page it is asked from."""

    site: str = "testserver"
    origin: str = "https://testserver"
    key: Any = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    credential_id: bytes = field(default_factory=lambda: secrets.token_bytes(16))
    counted: int = 0  # how often it says it was used; one that keeps no count says 0

    def client_data(self, kind: str, challenge: str) -> bytes:
        said = {"type": f"webauthn.{kind}", "challenge": challenge, "origin": self.origin, "crossOrigin": False}
        return json.dumps(said).encode()

    def site_hash(self) -> bytes:
        return sha256(self.site.encode()).digest()

    def answer(self, response: dict[str, bytes]) -> str:
        return json.dumps({
            "id": websafe_encode(self.credential_id),
            "rawId": websafe_encode(self.credential_id),
            "type": "public-key",
            "clientExtensionResults": {},
            "response": {name: websafe_encode(value) for name, value in response.items()},
        })  # fmt: skip

    def made(self, options: dict[str, Any]) -> str:
        """What the browser sends once the key is made."""
        public = ES256.from_cryptography_key(self.key.public_key())
        kept = AttestedCredentialData.create(Aaguid.NONE, self.credential_id, public)
        data = AuthenticatorData.create(self.site_hash(), PRESENT | WITH_KEY, self.counted, kept)
        client = self.client_data("create", options["publicKey"]["challenge"])
        return self.answer(
            {"clientDataJSON": client, "attestationObject": bytes(AttestationObject.create("none", data, {}))}
        )

    def shown(self, question: dict[str, Any]) -> str:
        """What the browser sends once the key has signed the challenge."""
        data = bytes(AuthenticatorData.create(self.site_hash(), PRESENT, self.counted))
        client = self.client_data("get", question["publicKey"]["challenge"])
        signature = self.key.sign(data + sha256(client).digest(), ec.ECDSA(SHA256()))
        return self.answer({"clientDataJSON": client, "authenticatorData": data, "signature": signature})
