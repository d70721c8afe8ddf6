"""The digest of a method: one number for all that its papers rest on.

Two files that say the same thing give the same digest, whatever the order of their keys; a changed value,
reference entry or site threshold gives another. Printed in short on every page, so that paper and approval
can be compared by eye.
"""

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any

import rfc8785

from fillmark.model import Method, Reference


def digest(method: Method) -> str:
    """Give the SHA-256 of a method as 64 hexadecimal digits.

    It is taken over the RFC 8785 form of the method's plain data, the reference entries it uses, the texts of
    the site policy and the version of the method language.
    """
    content = {
        "language": method.data["fillmark"],
        "method": _plain(method.data),
        "reference": {
            f"{kind}.{key}": _plain(method.reference.raw[kind][key]) for kind, key in sorted(used(method))
        },
        "policy": {"version": method.reference.policy.version, **method.reference.policy.texts},
    }
    return hashlib.sha256(rfc8785.dumps(content)).hexdigest()


def digest_of(reference: Reference, named: Iterable[tuple[str, str]]) -> str:
    """Give the SHA-256 of entries of the reference data, (kind, key), with the site policy, as `digest` does."""
    content = {
        "reference": {f"{kind}.{key}": _plain(reference.raw[kind][key]) for kind, key in sorted(set(named))},
        "policy": {"version": reference.policy.version, **reference.policy.texts},
    }
    return hashlib.sha256(rfc8785.dumps(content)).hexdigest()


def used(method: Method) -> set[tuple[str, str]]:
    """Find the reference entries a method's figures can depend on: (kind, key)."""
    raw = method.reference.raw
    spindles = {method.spindle.key}
    # A container written out in the method has a path there, and is in the plain data already.
    containers = set() if method.container.path else {method.container.key}
    if method.spindle.container is not None:
        containers.add(method.spindle.container)
    couplings = {method.instrument.coupling.key, method.instrument.adapter or method.instrument.coupling.key}
    fluids: set[str] = set()
    if method.coefficient is not None:
        containers.add(method.coefficient.container)
    if method.verification is not None:
        fluids.add(method.verification.fluid.key)
        if method.verification.spindle is not None:
            spindles.add(method.verification.spindle.key)
        if method.verification.container is not None:
            containers.add(method.verification.container.key)
    springs = {method.instrument.spring.key}
    springs |= {raw["spindles"][key]["coefficient"]["spring"] for key in spindles}
    guards = {raw["couplings"][key]["guard"] for key in couplings if key in raw["couplings"]}
    named = {
        "springs": springs,
        "spindles": spindles,
        "containers": containers,
        "couplings": couplings,
        "guards": guards,
        "fluids": fluids,
    }
    return {(kind, key) for kind, keys in named.items() for key in keys if key in raw[kind]}


def _plain(value: Any) -> Any:
    """Turn read data into the dicts, lists and scalars that canonical JSON is made of."""
    if isinstance(value, Mapping):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    return value
