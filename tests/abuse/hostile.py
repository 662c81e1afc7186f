"""What nobody should have to type: values, texts and bytes, and a scenario file with some of them put into it."""

import random
import re

VALUES = (
    "nan",
    "NaN ohm",
    "inf",
    "-inf V",
    "1e400 A",
    "-1e400",
    "1e-320 H",
    "9" * 400,
    "10" * 5000,
    "0",
    "-1",
    "",
    "  ",
    '""',
    "''",
    "\x00",
    "\u202e50 Hz",
    "0x10",
    "1_000 V",
    "true",
    "[1,2]",
    "{a=1}",
    "[" * 300,
    "absent",
    "\u221e V",
    "-5 V",
    "1e9 A",
    "1e-30 H",
    "50 Hz",
    "None",
    "__import__('os').system('true')",
    "${HOME}",
    "`id`",
    "../../etc/passwd",
    "\udcff",
)
STARTS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\x00", b"#" * 10_000 + b"\n", b"[[" * 200, b"x = " + b"[" * 5000)
NUMBER = re.compile(rb'"([-0-9.e]+)( ?[a-zA-Z0-9%.]*)"')


def mutated(text: bytes, seed: int) -> bytes:
    """A file with one to thirty things done to it."""
    chance, data = random.Random(seed), bytearray(text)
    for _ in range(chance.choice((1, 1, 2, 5, 30))):
        chance.choice(_WAYS)(chance, data)
    return bytes(data)


def _put(data: bytearray, start: int, stop: int, new: bytes) -> None:
    data[start:stop] = new


def _value(chance: random.Random) -> bytes:
    return chance.choice(VALUES).encode("utf-8", "surrogatepass")


def _change_a_byte(chance: random.Random, data: bytearray) -> None:
    if data:
        data[chance.randrange(len(data))] = chance.randrange(256)


def _take_out(chance: random.Random, data: bytearray) -> None:
    place = chance.randrange(len(data) + 1)
    _put(data, place, place + chance.choice((1, 5, 80)), b"")


def _put_in(chance: random.Random, data: bytearray) -> None:
    place = chance.randrange(len(data) + 1)
    noise = bytes(chance.randrange(256) for _ in range(4))
    _put(data, place, place, chance.choice((_value(chance), noise)))


def _double_a_line(chance: random.Random, data: bytearray) -> None:
    lines = bytes(data).split(b"\n")
    lines.insert(chance.randrange(len(lines)), chance.choice(lines))
    _put(data, 0, len(data), b"\n".join(lines))


def _drop_a_line(chance: random.Random, data: bytearray) -> None:
    lines = bytes(data).split(b"\n")
    del lines[chance.randrange(len(lines))]
    _put(data, 0, len(data), b"\n".join(lines))


def _another_value(chance: random.Random, data: bytearray) -> None:
    found = list(NUMBER.finditer(bytes(data)))
    if found:
        match = chance.choice(found)
        _put(data, match.start(), match.end(), b'"' + _value(chance) + b'"')


def _another_size(chance: random.Random, data: bytearray) -> None:
    found = list(NUMBER.finditer(bytes(data)))
    if found:
        match = chance.choice(found)
        try:
            number = float(match[1]) * 10.0 ** chance.choice((-12, -6, -3, -1, 1, 3, 6, 12))
        except ValueError:
            return
        _put(data, match.start(), match.end(), b'"' + f"{number:g}".encode() + match[2] + b'"')


def _another_start(chance: random.Random, data: bytearray) -> None:
    _put(data, 0, 0, chance.choice(STARTS))


_WAYS = (
    _change_a_byte,
    _take_out,
    _put_in,
    _double_a_line,
    _drop_a_line,
    _another_value,
    _another_size,
    _another_size,
    _another_start,
)
