"""Every reader takes what it should, and whatever else it is given it takes whole or refuses in words.

In every run a few inputs of hypothesis's, and those that once broke a reader; `bash tests/run long` gives each reader to a
coverage-guided fuzzer for minutes (run.py).
"""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .readers import READERS, Reader

# What broke a reader once: each is read again in every run.
FOUND = {
    "trade-notation": [
        b"6022u",  # shown as 6.022 mF, which may not be typed: old parts print it for a microfarad
        b"0.26p",  # shown as 260 fF, which nobody may type
        "µ000000000000000020".encode(),  # 2e-23 V, shown with a power and a prefix
        b"1e3k",  # read as a thousand: the prefix was dropped after a power
    ],
}


@cache
def reader(name: str) -> Reader:
    return READERS[name]()


@pytest.mark.parametrize("name", READERS)
def test_it_takes_what_it_should(name: str) -> None:
    starts = reader(name).starts
    assert any(reader(name).read(start) for start in starts)


@pytest.mark.parametrize(("name", "data"), [(name, data) for name, inputs in FOUND.items() for data in inputs])
def test_what_broke_it_once(name: str, data: bytes) -> None:
    reader(name).read(data)


@pytest.mark.parametrize("name", READERS)
@given(data=st.binary(max_size=120))
@settings(max_examples=amount(12, 400))
def test_anything_else_is_taken_or_refused(name: str, data: bytes) -> None:
    reader(name).one(data)


def test_an_input_is_bytes_pieces_or_edits_of_a_start() -> None:
    made = Reader([b"abcdef"], [b"X", b"YZ"], lambda _: True)
    assert made.meant(b"") == b""
    assert made.meant(b"\x00abc") == b"abc"
    assert made.meant(b"\x01\x00\x01\x02") == b"XYZX"
    assert made.meant(b"\x02\x00") == b"abcdef"
    assert made.meant(b"\x02\x00\x00\x00\x01\x01") == b"YZabcdef"
