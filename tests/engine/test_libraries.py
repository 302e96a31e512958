"""Only what nobody wrote to is given back of libraries, and what is given back comes again."""

from __future__ import annotations

import subprocess
import sys
from textwrap import dedent

import pytest

from onecrew.engine.libraries import unchanged


def mapped(at: int, rights: str, file: str, anonymous: int = 0, swap: int = 0, inode: int = 7) -> str:
    """One mapping as /proc/PID/smaps has it (proc(5), the lines that count and some others)."""
    return dedent(
        f"""\
        {at:x}-{at + 0x1000:x} {rights} 00002000 fe:00 {inode} {file}
        Size:                  4 kB
        Anonymous:             {anonymous} kB
        AnonHugePages:         0 kB
        Swap:                  {swap} kB
        SwapPss:               0 kB
        VmFlags: rd ex mr mw me
        """
    )


CODE = mapped(0x10000, "r-xp", "/usr/lib/libz.so.1")


def found(*mappings: str) -> list[int]:
    return [
        start for start, end in unchanged("".join((CODE, *mappings)).splitlines()) if end == start + 0x1000
    ]


def test_code_and_what_is_only_read_of_a_library_is_found() -> None:
    assert found(mapped(0x20000, "r--p", "/usr/lib/libz.so.1")) == [0x10000, 0x20000]


def test_it_is_found_also_before_the_code() -> None:
    before = mapped(0x8000, "r--p", "/usr/lib/libz.so.1")
    assert [start for start, _ in unchanged((before + CODE).splitlines())] == [0x8000, 0x10000]


def test_a_name_with_spaces_is_one() -> None:
    name = "/home/the night baker/my env/lib.so (deleted)"
    assert found(mapped(0x20000, "r-xp", name), mapped(0x30000, "r--p", name)) == [0x10000, 0x20000, 0x30000]


@pytest.mark.parametrize(
    "kept",
    [
        pytest.param(mapped(0x20000, "rw-p", "/usr/lib/libz.so.1"), id="may be written"),
        pytest.param(mapped(0x20000, "rwxp", "/usr/lib/libz.so.1"), id="may be written and run"),
        pytest.param(mapped(0x20000, "r--s", "/usr/lib/libz.so.1"), id="shared"),
        pytest.param(mapped(0x20000, "---p", "/usr/lib/libz.so.1"), id="a gap"),
        pytest.param(mapped(0x20000, "r--p", "/usr/lib/libz.so.1", anonymous=4), id="relocated"),
        pytest.param(mapped(0x20000, "r-xp", "/usr/lib/libz.so.1", anonymous=4), id="relocated code"),
        pytest.param(mapped(0x20000, "r--p", "/usr/lib/libz.so.1", swap=4), id="relocated and swapped"),
        pytest.param(mapped(0x20000, "r--p", "/usr/lib/libz.so.1", anonymous=4, swap=4), id="half swapped"),
        pytest.param(mapped(0x20000, "r--p", "/usr/lib/libz.so.1 of others"), id="another name"),
        pytest.param(mapped(0x20000, "r--p", "/run/user/1000/onecrew/show.live"), id="no library"),
        pytest.param(mapped(0x20000, "r-xp", "", inode=0), id="no file"),
        pytest.param(mapped(0x20000, "r-xp", ""), id="no name"),
        pytest.param(
            CODE.replace("10000-11000", "20000-21000").replace("Anonymous:", "Other:"), id="not said"
        ),
        pytest.param(mapped(0x20000, "r-xp", "[vdso]", inode=0), id="the kernel's"),
    ],
)
def test_all_else_stays(kept: str) -> None:
    assert found(kept) == [0x10000]


SCRIPT = """
import hashlib, numpy as np
from onecrew.engine.libraries import give_back, note_libraries

def held():
    return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("RssFile"))

def work():
    light = np.linspace(0.0, 1.0, 900).reshape(30, 30) + np.eye(30)
    return hashlib.sha256(np.linalg.inv(light).round(9).tobytes()).hexdigest()

before, had = work(), held()
give_back()
print(held() > 0.9 * had)  # nothing was noted
note_libraries()
give_back()
print(held() < 0.7 * had, work() == before)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="it is done on Linux alone")
def test_a_process_gives_back_and_works_as_before() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.split() == ["True", "True", "True"]
