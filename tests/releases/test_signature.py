"""Signatures by OpenSSH: made, judged, and refused with a reason."""

import shutil
import subprocess
from datetime import datetime

import pytest

from fillmark.releases.signature import LARGEST, NAMESPACE, SignatureError, judge, sign

AT = datetime.fromisoformat("2026-11-26T10:00:00+01:00")

pytestmark = pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="needs ssh-keygen")


@pytest.fixture
def key(tmp_path):
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(tmp_path / "key")], check=True)
    public = (tmp_path / "key.pub").read_text(encoding="utf-8")
    (tmp_path / "allowed").write_text(f"h.marlow {public}", encoding="utf-8")
    return tmp_path / "key"


def test_what_was_signed_is_known_by_its_signer(key):
    signed = sign(b"bundle", key)
    found = judge(b"bundle", signed, key.with_name("allowed"), AT)
    assert ("h.marlow", "") == (found.by, found.why)


def test_other_bytes_or_another_list_are_not(key, tmp_path):
    signed = sign(b"bundle", key)
    assert judge(b"bundlf", signed, key.with_name("allowed"), AT).by is None
    (tmp_path / "none").write_text("", encoding="utf-8")
    found = judge(b"bundle", signed, tmp_path / "none", AT)
    assert found.by is None
    assert found.why


def test_a_signature_for_another_purpose_is_none_here(key):
    """What somebody signed as mail or as a commit is no approval of a method."""
    command = ["ssh-keygen", "-Y", "sign", "-q", "-n", "file", "-f", str(key)]
    done = subprocess.run(command, input=b"bundle", capture_output=True, check=True)
    assert "file" != NAMESPACE
    assert judge(b"bundle", done.stdout, key.with_name("allowed"), AT).by is None


def test_the_same_bytes_give_the_same_signature(key):
    assert sign(b"bundle", key) == sign(b"bundle", key)


def test_a_key_that_is_none_is_refused(tmp_path):
    (tmp_path / "key").write_text("hello", encoding="utf-8")
    (tmp_path / "key").chmod(0o600)
    with pytest.raises(SignatureError, match="made no signature with"):
        sign(b"bundle", tmp_path / "key")


def test_without_the_program_it_says_which_to_install(key, monkeypatch):
    signed = sign(b"bundle", key)
    monkeypatch.setenv("PATH", "")
    with pytest.raises(SignatureError, match="openssh-client"):
        sign(b"bundle", key)
    with pytest.raises(SignatureError, match="openssh-client"):
        judge(b"bundle", signed, key.with_name("allowed"), AT)


def test_a_list_that_cannot_be_read_is_told(key, tmp_path):
    with pytest.raises(SignatureError, match="cannot be read"):
        judge(b"bundle", sign(b"bundle", key), tmp_path / "missing", AT)


def test_a_signature_longer_than_any_is_not_looked_at(key, tmp_path):
    assert "longer" in judge(b"bundle", b"x" * (LARGEST + 1), tmp_path / "missing", AT).why
