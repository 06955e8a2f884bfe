"""Brings Python files and templates into shape: `make fmt`."""

import subprocess

from scripts.lint import ROOT, tool, tracked


def main() -> None:
    subprocess.run([tool("ruff"), "check", "--fix", "--quiet", "."], check=False, cwd=ROOT)
    subprocess.run([tool("ruff"), "format", "."], check=True, cwd=ROOT)
    if templates := tracked("templates/*.html", "*/templates/*.html"):
        # It ends with 1 when it has changed something, which is what was asked for.
        subprocess.run([tool("djade"), "--target-version", "5.2", *templates], check=False, cwd=ROOT)


if __name__ == "__main__":
    main()
