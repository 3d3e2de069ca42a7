"""Single sign-on by OpenID Connect: what is asked of the provider, and what is believed of its answer.

OpenID Connect Core 1.0: the code flow (section 3.1) and the checks of an ID token (3.1.3.7); RFC 7636 ties the code to
the browser that asked for it. The signature, the issuer, the audience and the times are checked by PyJWT. Nothing but
issuer and subject says who somebody is (section 5.7): an e-mail address may be a student's, or be given away.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from base64 import urlsafe_b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from http.client import HTTPException
from typing import Any
from urllib.error import URLError
from urllib.parse import urlencode, urlsplit
from urllib.request import HTTPRedirectHandler, Request, build_opener

import jwt
from django.conf import settings

TIMEOUT_S = 8
MOST_BYTES = 200_000
SIGNED_BY = ("RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA")  # no shared key
CLOCKS_DIFFER_S = 60
NEEDED = ["iss", "sub", "aud", "exp", "iat", "nonce"]


def offered_name() -> str:
    """Return what the pages call the account that people sign on with; "" where sign-on is not set up."""
    return settings.SIGN_ON_NAME if settings.SIGN_ON_ISSUER else ""


class SignOnError(Exception):
    """The provider cannot be asked, or its answer is not believed; the message is for the log and names no person."""


@dataclass(frozen=True, slots=True)
class Account:
    """Who the provider says is signed on."""

    issuer: str
    subject: str
    shown: str  # how it is called on the page that asks whether to link it; nothing is decided by it


@dataclass(frozen=True, slots=True)
class Question:
    """What is kept in the session until the provider answers; each is used for one answer."""

    state: str
    nonce: str
    verifier: str

    @classmethod
    def new(cls) -> Question:
        return cls(*(secrets.token_urlsafe(32) for _ in range(3)))


class _NoRedirect(HTTPRedirectHandler):
    """The provider's own addresses are asked, not where they point."""

    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


def is_fit(address: str) -> bool:
    """Whether an address may be asked: by https, or on this machine."""
    parts = urlsplit(address)
    return parts.scheme == "https" or (parts.scheme == "http" and parts.hostname in {"127.0.0.1", "localhost"})


def _get_json(address: str, *, data: Mapping[str, str] | None = None) -> dict[str, Any]:
    if not is_fit(address):
        raise SignOnError("the provider names an address without https")
    body = None if data is None else urlencode(data).encode()
    request = Request(address, data=body, headers={"Accept": "application/json"})  # noqa: S310  # is_fit
    try:
        with build_opener(_NoRedirect).open(request, timeout=TIMEOUT_S) as answer:
            read = json.loads(answer.read(MOST_BYTES))
    except (URLError, HTTPException, OSError, ValueError) as error:
        raise SignOnError(f"the provider did not answer as it should: {type(error).__name__}") from error
    if not isinstance(read, dict):
        raise SignOnError("the provider answered with something else than an object")
    return read


def provider() -> dict[str, Any]:
    """Return the provider's addresses, as it publishes them; refused if they are another issuer's."""
    found = _get_json(f"{settings.SIGN_ON_ISSUER.rstrip('/')}/.well-known/openid-configuration")
    if found.get("issuer") != settings.SIGN_ON_ISSUER:
        raise SignOnError("the provider says it is another issuer")
    wanted = ("authorization_endpoint", "token_endpoint", "jwks_uri")
    if not all(isinstance(found.get(name), str) and is_fit(found[name]) for name in wanted):
        raise SignOnError("the provider names no address to ask, or one without https")
    return found


def address_to_ask(question: Question, *, back: str) -> str:
    """Return where the browser is sent to sign on."""
    challenge = urlsafe_b64encode(hashlib.sha256(question.verifier.encode()).digest()).rstrip(b"=").decode()
    query = {
        "response_type": "code",
        "client_id": settings.SIGN_ON_CLIENT_ID,
        "redirect_uri": back,
        "scope": "openid email",
        "state": question.state,
        "nonce": question.nonce,
        "code_challenge": challenge,
        "code_challenge_method": "S256",
    }
    endpoint = provider()["authorization_endpoint"]
    return f"{endpoint}{'&' if urlsplit(endpoint).query else '?'}{urlencode(query)}"


def account_of(code: str, question: Question, *, back: str) -> Account:
    """Exchange the code for an ID token, check it, and return who it names."""
    found = provider()
    sent = {
        "grant_type": "authorization_code",
        "code": code,
        "redirect_uri": back,
        "client_id": settings.SIGN_ON_CLIENT_ID,
        "client_secret": settings.SIGN_ON_CLIENT_SECRET,
        "code_verifier": question.verifier,
    }
    token = _get_json(found["token_endpoint"], data=sent).get("id_token")
    if not isinstance(token, str):
        raise SignOnError("the provider sent no ID token")
    return believed(token, keys=_get_json(found["jwks_uri"]), nonce=question.nonce)


def believed(token: str, *, keys: Mapping[str, Any], nonce: str) -> Account:
    """Return who the ID token names, once everything about it is right."""
    try:
        header = jwt.get_unverified_header(token)
        if header.get("alg") not in SIGNED_BY:
            raise SignOnError("the token is not signed by a key of the provider's own")
        listed = [key for key in jwt.PyJWKSet.from_dict(dict(keys)).keys if key.public_key_use in {None, "sig"}]
        fitting = [key for key in listed if key.key_id == header.get("kid")] if header.get("kid") else listed
        if len(fitting) != 1:
            raise SignOnError("the token's key is not among the provider's")
        claims = jwt.decode(
            token,
            fitting[0],
            algorithms=[header["alg"]],
            audience=settings.SIGN_ON_CLIENT_ID,
            issuer=settings.SIGN_ON_ISSUER,
            leeway=CLOCKS_DIFFER_S,
            options={"require": NEEDED},
        )
    except (jwt.PyJWTError, ValueError, TypeError, KeyError, AttributeError) as error:
        raise SignOnError(f"the token is not believed: {type(error).__name__}") from error
    if not secrets.compare_digest(str(claims["nonce"]).encode(), nonce.encode()):
        raise SignOnError("the token answers another question")
    if isinstance(claims["aud"], list) and len(claims["aud"]) > 1 and claims.get("azp") != settings.SIGN_ON_CLIENT_ID:
        raise SignOnError("the token was made for somebody else")
    subject = claims["sub"]
    if not isinstance(subject, str) or not 0 < len(subject) <= 255 or "\0" in subject:
        raise SignOnError("the token names no subject")
    shown = str(claims.get("email") or claims.get("preferred_username") or subject)[:120]
    return Account(issuer=settings.SIGN_ON_ISSUER, subject=subject, shown=shown)
