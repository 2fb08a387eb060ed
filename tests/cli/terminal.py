# SPDX-License-Identifier: MIT
"""Colours and progress belong to terminals: the program on a pseudo-terminal, and on pipes.

    terminal.py PROGRAM WORK        WORK holds coat/bound and coat/frames (set_up.cmake)
"""
import os
import pty
import shutil
import subprocess
import sys

program, work = sys.argv[1], sys.argv[2]
failures = 0


def check(good, text):
    global failures
    print("ok   " if good else "FAIL ", text, sep="")
    failures += not good


def run(arguments, terminal, **environment):
    """(stdout, stderr); the one named by `terminal` is a pseudo-terminal, the other one a file."""
    variables = {k: v for k, v in os.environ.items() if k != "NO_COLOR"} | environment
    outer, inner = pty.openpty()
    with open(os.path.join(work, "terminal.txt"), "w+b") as other:
        streams = {"stdout": other, "stderr": other, terminal: inner}
        child = subprocess.Popen([program, *arguments], cwd=work, env=variables, **streams)
        os.close(inner)
        seen = b""
        try:
            while piece := os.read(outer, 65536):
                seen += piece
        except OSError:  # the program has closed its end
            pass
        child.wait()
        os.close(outer)
        other.seek(0)
        rest = other.read()
    return (seen, rest) if terminal == "stdout" else (rest, seen)


check_all = ["check", "coat/bound", "coat/frames/coat_0001.obj", "--max-stretch", "0.01"]
out, err = run(check_all, "stdout")
check(b"\x1b[1;31mfault\x1b[0m: " in out, "faults are coloured on a terminal")
check(b"\x1b" not in err, "nothing is coloured in a file")
out, _ = run(check_all, "stdout", NO_COLOR="1")
check(b"  fault: " in out and b"\x1b" not in out, "NO_COLOR is respected")
out, _ = run(check_all, "stdout", NO_COLOR="")
check(b"\x1b[1;31m" in out, "an empty NO_COLOR is none")
out, _ = run(check_all, "stderr")
check(b"  fault: " in out and b"\x1b" not in out, "no colours when stdout is a file")

# A bar begins after a second: on a fast machine more frames are needed until that has passed.
coat = os.path.join(work, "terminal")


def bar_is_shown(frames, words, terminal):
    shutil.rmtree(coat, ignore_errors=True)
    _, err = run(["demo", "terminal", "--frames", str(frames), *words], terminal)
    return b"\r\x1b[K" in err and (b"#] " in err or b".] " in err)


frames = 60
while not (shown := bar_is_shown(frames, [], "stderr")) and frames < 1000:
    frames *= 3
check(shown, "progress is shown where stderr is a terminal")
for words, terminal in ((["--quiet"], "stderr"), ([], "stdout")):
    check(not bar_is_shown(frames, words, terminal), f"progress is not shown: {words}, terminal is {terminal}")
shutil.rmtree(coat, ignore_errors=True)
sys.exit(1 if failures else 0)
