"""A detached signature of a bundle, made and judged by OpenSSH.

It shows that who holds a key has signed these bytes, no more: whose key it is stands in a file of allowed
signers that the laboratory keeps, and what a signature means for the laboratory's records is for the
laboratory to lay down.
"""

import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

NAMESPACE = "fillmark-release"
"""What the signature is for, so that one made for another purpose is none here."""
LARGEST = 16 * 1024
"""Bytes of the largest signature that is looked at."""
SUFFIX = ".sig"

_KEYGEN = "ssh-keygen"
_MISSING = (
    "ssh-keygen is not on this machine; it comes with OpenSSH (Debian: apt-get install openssh-client). Without it "
    "nothing can be signed and no signature judged."
)


class SignatureError(ValueError):
    """A signature that could not be made or judged; the message says why."""


@dataclass(frozen=True, slots=True)
class Signed:
    """What became of judging a signature."""

    by: str | None
    """Name of the signer in the file of allowed signers; None where the signature does not hold."""
    why: str
    """Why it does not hold, in the words of ssh-keygen; empty where it does."""


def _run(arguments: list[str], data: bytes) -> tuple[int, bytes, str]:
    program = shutil.which(_KEYGEN)
    if program is None:
        raise SignatureError(_MISSING)
    try:
        done = subprocess.run([program, *arguments], input=data, capture_output=True, check=False)  # noqa: S603
    except OSError as error:
        raise SignatureError(f"ssh-keygen cannot be run: {error.strerror}.") from error
    return done.returncode, done.stdout, done.stderr.decode("utf-8", "replace").strip()


def sign(data: bytes, key: Path) -> bytes:
    """Sign bytes with a private key (or a public one whose private half an agent holds).

    SignatureError where ssh-keygen is missing or refuses.
    """
    code, signature, said = _run(["-Y", "sign", "-q", "-n", NAMESPACE, "-f", str(key)], data)
    if code != 0 or not signature.startswith(b"-----BEGIN SSH SIGNATURE-----"):
        raise SignatureError(f"ssh-keygen made no signature with {key}: {_last(said)}")
    return signature


def judge(data: bytes, signature: bytes, signers: Path, at: datetime) -> Signed:
    """Judge a signature by a file of allowed signers, as it stood at the moment `at` (with its offset).

    SignatureError where ssh-keygen is missing or the file of signers cannot be read.
    """
    if len(signature) > LARGEST:
        return Signed(None, f"it is longer than {LARGEST} bytes")
    try:
        signers.read_bytes()
    except OSError as error:
        raise SignatureError(f"the allowed signers in {signers} cannot be read: {error.strerror}.") from error
    when = f"-Overify-time={at.astimezone(UTC):%Y%m%d%H%M%S}Z"
    with tempfile.TemporaryDirectory(prefix="fillmark-") as folder:
        file = Path(folder) / "signature"
        file.write_bytes(signature)
        code, found, said = _run(["-Y", "find-principals", when, "-s", str(file), "-f", str(signers)], b"")
        names = found.decode("utf-8", "replace").splitlines()
        if code != 0 or not names:
            return Signed(None, f"no allowed signer holds the key it was made with ({_last(said)})")
        # Several names may share one key; the first in the file speaks for it.
        arguments = [
            "-Y",
            "verify",
            when,
            "-n",
            NAMESPACE,
            "-f",
            str(signers),
            "-I",
            names[0],
            "-s",
            str(file),
        ]
        code, _, said = _run(arguments, data)
    return Signed(names[0], "") if code == 0 else Signed(None, _last(said))


def _last(said: str) -> str:
    lines = [line for line in re.split(r"[\r\n]+", said) if line.strip()]
    return lines[-1].strip() if lines else "it says nothing more"
