"""Run the main job on the example folders and say, in one line each, what came of it and where it lies.

One process for each processor, at most four, takes one command after the other, so that each loads the bench once.
"""

import io
import json
import os
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

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
    with ProcessPoolExecutor(min(4, os.cpu_count() or 1)) as processes:
        return shown(folders, processes)


def shown(folders: list[str], processes: ProcessPoolExecutor) -> int:
    """Jobs, then checks; said in the order of the folders."""
    made = []
    outs = [Path("out") / Path(folder).name for folder in folders]
    jobs = [
        ["job", "run", folder, "--out", str(out), "--data", str(ROOT / "shops" / SHOP)] for folder, out in zip(folders, outs)
    ]
    for (code, said), folder, out in zip(processes.map(command, jobs), map(Path, folders), outs):
        if code not in (0, 3):
            print(said)
            return code
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
    worst = 0
    for code, said in processes.map(command, [["verify", *own, str(path)] for path in made]):
        print(said, end="")
        worst = worst or code
    print()
    print(f"Open the bench:  SOUNDEDGE_KEYS={KEYS} .venv/bin/soundedge serve --root {ROOT}   then http://localhost:8741")
    print("Sign in as one of five invented people, their one-time passwords:  make sign-in")
    print(f"Look at a certificate:  {made[0].parent.parent / 'mixer-cover' / 'certificate.pdf'}   and your own job: README.md")
    return worst


def command(words: list[str]) -> tuple[int, str]:
    """``soundedge WORDS`` in this process: its exit code, and what it said."""
    from soundedge.cli.bench import run

    with io.StringIO() as said, redirect_stdout(said), redirect_stderr(said):
        return run(words), said.getvalue()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
