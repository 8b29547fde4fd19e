"""Run the main job on the example folders and say, in one line each, what came of it and where it lies."""

import json
import os
import subprocess
import sys
from pathlib import Path

BENCH = Path(sys.executable).with_name("soundedge")
ROOT, KEYS, SHOP = Path("out/bench"), Path("out/keys"), "kelderbeck-basin"
SIGN_IN = Path("out/sign-in.txt")


def main(folders: list[str]) -> int:
    """Every folder through ``soundedge job run``, every certificate through ``soundedge verify``."""
    if not folders:
        print("There are no example folders with a job.toml.", file=sys.stderr)
        return 1
    shop = subprocess.run([sys.executable, "scripts/demo_shop.py", ROOT, KEYS, *folders], stdout=subprocess.PIPE, text=True)
    SIGN_IN.parent.mkdir(exist_ok=True)
    SIGN_IN.touch(mode=0o600)
    SIGN_IN.write_text(shop.stdout, encoding="utf-8")
    if shop.returncode:
        return shop.returncode
    os.environ["SOUNDEDGE_KEYS"] = str(KEYS / SHOP)  # so the certificates are sealed and the jobs kept
    made = []
    for folder in map(Path, folders):
        out = Path("out") / folder.name
        run = subprocess.run(
            [BENCH, "job", "run", folder, "--out", out, "--data", ROOT / "shops" / SHOP], stdout=subprocess.PIPE, text=True
        )
        if run.returncode not in (0, 3):
            print(run.stdout)
            return run.returncode
        outcome = json.loads((out / "job.json").read_text(encoding="utf-8"))
        print(f"{folder.name}: {outcome['verdict'].replace('_', ' ')}")
        for block in outcome["blocked_by"][:3]:
            print(f"    {block['because']}")
            print(f"    → {block['next_move']}")
        if len(outcome["blocked_by"]) > 3:
            print(f"    … and {len(outcome['blocked_by']) - 3} more in {out / 'job.json'}")
        made.append(out / "certificate.pdf")
    print()
    print("The certificates and hold notices:")
    for path in made:
        print(f"    {path}")
    print()
    print("Checked as a stranger would check them, with the shop's public keys:")
    own = [f"--key={KEYS / SHOP / name}" for name in ("log.pub", "certificate.pem")]
    verify = subprocess.run([BENCH, "verify", *own, *made])
    print()
    print(f"Open the bench:  SOUNDEDGE_KEYS={KEYS} .venv/bin/soundedge serve --root {ROOT}   then http://localhost:8741")
    print("Sign in as one of five invented people, their one-time passwords:  make sign-in")
    print(f"Look at a certificate:  {made[0].parent.parent / 'mixer-cover' / 'certificate.pdf'}   and your own job: README.md")
    return verify.returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
