"""Fuzzing guided by coverage: ``python -m tests.fuzz --seconds 300``, or ``make fuzz``.

Inputs that reach something new are kept in ``out/fuzz``, so that the next run goes on from there.
What breaks a reader is written beside them, and ends the run: mend it, and lay the input into
``tests/fuzz/found``.
"""

from __future__ import annotations

import argparse
import hashlib
import sys
from pathlib import Path

try:
    import atheris
except ImportError:
    sys.exit(
        "atheris is not here. `make fuzz` installs it where it has a wheel: "
        "CPython 3.11 to 3.13 on x86_64 Linux."
    )

with atheris.instrument_imports(include=["rewire"]):
    from tests.fuzz.readers import ROOT, read_any, seeds, words

OUT = ROOT / "out" / "fuzz"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("--seconds", type=int, default=300)
    parser.add_argument("--longest", type=int, default=6000, help="bytes of an input")
    parser.add_argument("--corpus", type=Path, default=OUT)
    asked = parser.parse_args()
    corpus = asked.corpus / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    for seed in seeds():
        (corpus / hashlib.sha256(seed).hexdigest()[:16]).write_bytes(seed)
    dictionary = asked.corpus / "words"
    escaped = (word.replace("\\", "\\\\").replace('"', '\\"') for word in sorted(words()))
    dictionary.write_text("".join(f'"{word}"\n' for word in escaped), "ascii")
    options = [
        f"-max_total_time={asked.seconds}", f"-max_len={asked.longest}", f"-dict={dictionary}",
        f"-artifact_prefix={asked.corpus}/", "-timeout=20", "-rss_limit_mb=1500",
        "-print_final_stats=1", "-verbosity=1",
    ]  # fmt: skip
    atheris.Setup([sys.argv[0], *options, str(corpus)], lambda data: read_any(bytes(data)))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
