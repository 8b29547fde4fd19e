"""A command, answered in this process: what it printed and how it ended, without the second that a process takes to wake.

    run("job", "run", folder).returncode        0
    process("job", "run", folder).returncode    the same, in a process of its own
"""

import io
import subprocess
import sys
from subprocess import CompletedProcess
from unittest.mock import patch

from soundedge.cli.bench import run as answered

MAIN = "from soundedge.cli.main import main; main()"


def run(*arguments) -> CompletedProcess:
    """``soundedge …`` as somebody types it; no traceback may come of it."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    words = [str(one) for one in arguments]
    with patch.object(sys, "stdout", out), patch.object(sys, "stderr", err):
        code = answered(words)
    done = CompletedProcess(words, code, out.buffer.getvalue(), err.buffer.getvalue())
    assert b"Traceback" not in done.stderr + done.stdout, done.stderr.decode()
    return done


def process(*arguments, given=b"", env=None) -> CompletedProcess:
    """The same as a whole process."""
    done = subprocess.run([sys.executable, "-c", MAIN, *map(str, arguments)], input=given,
                          capture_output=True, timeout=180, env=env, check=False)
    assert b"Traceback" not in done.stderr + done.stdout, done.stderr.decode()
    return done
