"""Files that are no map: refused with the line, in bounded time and memory, and never by any other exception."""

import os
import tracemalloc
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from custom_components.chargehand.core.registers import MapInvalid, find_maps, load_map, unused_files

from .samples import HEAD, SAMPLE, load, problems


@pytest.mark.parametrize(
    ("text", "line", "reason", "cure"),
    [
        (b"", 1, "empty", "chargehand_map: 1"),
        (b"# only a comment\n", 1, "empty", "chargehand_map: 1"),
        (b"- 1\n- 2\n", 1, "not a set of keys", "chargehand_map: 1"),
        (b"just words\n", 1, "not a set of keys", "chargehand_map: 1"),
        (b"a: 1\nb: \xff\n", 2, "not UTF-8", "UTF-8"),
        ("title: Größe\n".encode("latin-1"), 1, "not UTF-8", "UTF-8"),
        (b"a: 1\nb: \x00\n", 2, "no text file has", "UTF-8"),
        (b"a: 1\n\nb: \x07\n", 3, "no text file has", "UTF-8"),
        (b"a: 1\nb: [1, 2\nc: 3\n", 3, "expected ',' or ']'", "indentation, colons and quotes"),
        (b"a: 1\n\tb: 2\n", 2, "cannot start any token", "indentation"),
        (b"a: 1\n b: 2\n", 2, "mapping values are not allowed here", "indentation"),
        (b"a: 'unfinished\n", 2, "unexpected end of stream", "quotes"),
        (b"a: 1\n---\nb: 2\n", 2, "expected a single document", "indentation"),
        (b"a: 1\nb: !secret password\n", 2, "tags are not taken (!secret)", "without a tag"),
        (b"a: !!python/object/apply:os.system [ls]\n", 1, "tags are not taken", "without a tag"),
        (b"a: &x 1\nb: *x\n", 1, "anchors and aliases", "write the values out"),
        (b"a: 1\nb: *x\n", 2, "anchors and aliases", "write the values out"),
        (b"a: 1\n? [b, c]\n: 2\n", 2, "where a key should", "a name"),
        (b"a: " + b"[" * 30 + b"]" * 30, 1, "nests too deeply", "keys of the format"),
        (b"a: 1\n" + b"b:\n" + b"".join(b" " * i + b"- \n" for i in range(30)), 22, "nests too deeply", "keys of"),
    ],
)
def test_what_is_no_map_is_refused(tmp_path: Path, text: bytes, line: int, reason: str, cure: str) -> None:
    (problem,) = problems(tmp_path, text)
    assert str(problem).startswith(f"sample.yaml:{line}: ")
    assert reason in problem.reason
    assert cure in problem.cure


def test_aliases_within_aliases_cost_nothing(tmp_path: Path) -> None:
    # The well-known "billion laughs": nine levels of nine references would be 9^9 values.
    rows = ["a0: &a0 [x]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    (problem,) = problems(tmp_path, "\n".join(rows))
    assert "anchors and aliases" in problem.reason


@pytest.mark.parametrize("size", [256 * 1024 + 1, 10_000_000])
def test_a_file_that_is_too_long_is_refused_unread(tmp_path: Path, size: int) -> None:
    path = tmp_path / "long.yaml"
    path.write_bytes(b"#" * size)
    tracemalloc.start()
    with pytest.raises(MapInvalid, match="too long"):
        load_map(path)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 2_000_000


def test_a_file_of_just_the_limit_is_read(tmp_path: Path) -> None:
    assert problems(tmp_path, SAMPLE + "#" * (256 * 1024 - len(SAMPLE))) == ()


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    assert problems(tmp_path, b"\xef\xbb\xbf" + SAMPLE.encode()) == ()


def test_windows_line_ends_are_no_mistake(tmp_path: Path) -> None:
    assert load(tmp_path, SAMPLE.replace("\n", "\r\n")) == load(tmp_path, SAMPLE)


@pytest.mark.parametrize("odd", ["<<", "=", "2026-02-30", "0x" + "f" * 6000, "9" * 6000, "1e999", "~"])
def test_odd_yaml_values_are_judged_not_tripped_over(tmp_path: Path, odd: str) -> None:
    for old, key in (("longest_read: 100", "line.longest_read"), ("scale: 0.01", "readings.loop.scale")):
        found = problems(tmp_path, SAMPLE.replace(old, f"{old.split(':')[0]}: {odd}"))
        assert [problem.key for problem in found] == [key]
        assert len(str(found[0])) < 300
    found = problems(tmp_path, f"{odd}: 1\n{SAMPLE}" if len(odd) < 1000 else f"? {odd}\n: 1\n{SAMPLE}")
    assert len(found) == 1
    assert found[0].line == 1


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    text=st.one_of(st.binary(max_size=60), st.text(alphabet="{}[]:-,&*!|>'\"%@`#? \n0aé", max_size=60).map(str.encode))
)
def test_any_file_is_a_map_or_invalid(tmp_path: Path, text: bytes) -> None:
    problems(tmp_path, text)
    problems(tmp_path, HEAD.encode() + text)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_map_cut_up_anyhow_is_a_map_or_invalid(tmp_path: Path, data: st.DataObject) -> None:
    tokens = [
        "null",
        "{}",
        "[]",
        "[1]",
        "{a: 1}",
        "true",
        "-1",
        "0.5",
        ".inf",
        "''",
        "24:00",
        "text",
        "~",
        "70000",
        "2026-01-01",
    ]
    lines = SAMPLE.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        number = data.draw(st.integers(0, len(lines) - 1))
        key, colon, _ = lines[number].partition(":")
        choice = data.draw(st.sampled_from(["drop", "double", "value"]))
        if choice == "drop":
            lines[number] = ""
        elif choice == "double":
            lines.insert(number, lines[number])
        else:
            lines[number] = f"{key}{colon} {data.draw(st.sampled_from(tokens))}"
    problems(tmp_path, "\n".join(lines))


VALUES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-70000, 70000), st.floats(), st.text("abcé ", max_size=4)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text("abc", max_size=3), inner, max_size=3)
    ),
    max_leaves=4,
)


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_any_value_in_any_place_is_right_or_invalid(tmp_path: Path, data: st.DataObject) -> None:
    document = yaml.safe_load(SAMPLE)
    places = []
    stack = [document]
    while stack:
        here = stack.pop()
        for key in list(here) if isinstance(here, dict) else range(len(here)):
            places.append((here, key))
            if isinstance(here[key], dict | list):
                stack.append(here[key])
    here, key = data.draw(st.sampled_from(places))
    here[key] = data.draw(VALUES)
    problems(tmp_path, yaml.safe_dump(document, allow_unicode=True))


def test_a_users_file_hides_a_bundled_one(tmp_path: Path) -> None:
    user, bundled = tmp_path / "user", tmp_path / "bundled"
    for folder, names in ((user, ["one", "Not A Map"]), (bundled, ["one", "two"])):
        folder.mkdir()
        for name in names:
            (folder / f"{name}.yaml").write_text(SAMPLE)
    (user / "notes.txt").write_text("no map")
    assert find_maps(user, bundled) == {"one": user / "one.yaml", "two": bundled / "two.yaml"}
    assert find_maps(tmp_path / "missing", bundled).keys() == {"one", "two"}


def test_a_pipe_is_no_map_and_never_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "one.yaml")
    (tmp_path / "two.yaml").write_text(SAMPLE)
    (tmp_path / "three.yaml").symlink_to("nowhere")
    assert find_maps(tmp_path).keys() == {"two", "three"}
    (unused,) = unused_files(tmp_path)
    assert (unused.name, unused.why.key) == ("one.yaml", "file_device")
