"""The digest: the same for the same content, another for another."""

import hashlib
import json
from dataclasses import replace

import pytest

from fillmark.digest import digest


def test_it_is_the_sha_256_of_the_canonical_form(compiled, reference):
    # RFC 8785 for content without floats: keys sorted, no spaces, UTF-8. Numbers with a decimal point are
    # written the same by Python and by RFC 8785 between 1e-6 and 1e21.
    method = compiled("QAP-VIS-002").method
    used = {
        "containers": ["chamber-19"],
        "couplings": ["magnetic"],
        "fluids": ["REF-30000"],
        "guards": ["standard"],
        "spindles": ["chamber-11.8"],
        "springs": ["R"],
    }
    content = {
        "language": 1,
        "method": method.data,
        "policy": {"version": reference.policy.version, **reference.policy.texts},
        "reference": {
            f"{kind}.{key}": reference.raw[kind][key] for kind, keys in used.items() for key in keys
        },
    }
    canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert hashlib.sha256(canonical.encode()).hexdigest() == digest(method)


def test_the_order_of_keys_does_not_count(compiled):
    method = compiled("MCW-VIS-014").method
    turned = {key: method.data[key] for key in reversed(method.data)}
    assert digest(method) == digest(replace(method, data=turned))


@pytest.mark.parametrize(
    "change", [("purpose: release", "purpose: stability"), ("upper: 12.0 Pa·s", "upper: 12.1 Pa·s")]
)
def test_a_changed_value_gives_another(compiled, change):
    assert digest(compiled("MCW-VIS-014").method) != digest(compiled("MCW-VIS-014", change).method)


def test_a_changed_reference_entry_counts_only_where_it_is_used(compiled):
    method = compiled("MCW-VIS-014").method

    def with_spindle(key):
        raw = {kind: dict(entries) for kind, entries in method.reference.raw.items()}
        raw["spindles"][key] = {**raw["spindles"][key], "diameter": "21.20 mm"}
        return replace(method, reference=replace(method.reference, raw=raw))

    assert digest(method) != digest(with_spindle("R5"))
    assert digest(method) == digest(with_spindle("R4"))


def test_the_spindle_of_the_check_counts_too(compiled):
    method = compiled("LMT-VIS-021").method
    raw = {kind: dict(entries) for kind, entries in method.reference.raw.items()}
    raw["spindles"]["R6"] = {**raw["spindles"]["R6"], "length": "1.6 mm"}
    assert digest(method) != digest(replace(method, reference=replace(method.reference, raw=raw)))


def test_a_changed_policy_gives_another(compiled):
    method = compiled("MCW-VIS-014").method
    policy = method.reference.policy
    changed = replace(policy, texts={**policy.texts, "torque_floor": "15 %"})
    assert digest(method) != digest(replace(method, reference=replace(method.reference, policy=changed)))
