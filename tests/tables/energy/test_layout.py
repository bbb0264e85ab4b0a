"""Layouts found from the head of a file, and what is asked for when it does not tell."""

import pytest

from recycling.tables.energy.layout import LayoutChoices, read_layout


@pytest.fixture
def written(tmp_path):
    def write(content, encoding="utf-8"):
        path = tmp_path / "log.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
        return path

    return write


def rows(form, count=30):
    return "".join(form.format(i=i, d=i % 28 + 1) + "\n" for i in range(count))


@pytest.mark.parametrize(
    ("content", "separator", "decimal", "shape", "kind", "factor"),
    [
        (
            "time,power_w\n" + rows("2025-01-{d:02}T10:00:00Z,{i}.5"),
            ",",
            ".",
            "year first",
            "power",
            1,
        ),
        ("Zeit;kW\n" + rows("{d:02}.01.2025 10:00;{i},5"), ";", ",", "day first", "power", 1e3),
        ("at\tWh\n" + rows("01/{d}/2025 1:05 PM\t{i}"), "\t", ".", "month first", "counter", 1e-3),
        (
            "t|E (kWh)\n" + rows("17407872{d:02}|{i}.5"),
            "|",
            ".",
            "seconds since 1970",
            "counter",
            1,
        ),
        ("t;W\n" + rows("1740787200{d:03};{i}"), ";", ".", "milliseconds since 1970", "power", 1),
    ],
)
def test_usual_files_are_recognised(written, content, separator, decimal, shape, kind, factor):
    layout = read_layout(written(content))
    assert (layout.separator, layout.decimal, layout.time_shape) == (separator, decimal, shape)
    assert (layout.kind, layout.factor, layout.header_lines) == (kind, factor, 1)
    assert (layout.time_columns, layout.value_column) == ((0,), 1)


def test_lines_before_the_header_are_passed_over(written):
    layout = read_layout(
        written("Logger 4\nsite;north\n\ntime;W\n" + rows("2025-01-{d:02} 10:00;{i}"))
    )
    assert (layout.header_lines, layout.columns) == (4, ("time", "W"))


def test_first_rows_without_a_value_are_rows_all_the_same(written):
    body = "2025-01-01 09:58;\n2025-01-01 09:59;\n" + rows("2025-01-{d:02} 10:00;{i}")
    layout = read_layout(written("time;W\n" + body))
    assert (layout.header_lines, layout.columns) == (1, ("time", "W"))


def test_file_without_header_needs_kind_and_unit(written):
    path = written(rows("2025-01-{d:02} 10:00;{i}"))
    with pytest.raises(ValueError, match="power, a counter, or the energy of each interval"):
        read_layout(path)
    with pytest.raises(ValueError, match="unit of column 2 is not known"):
        read_layout(path, LayoutChoices(kind="interval"))
    layout = read_layout(path, LayoutChoices(kind="interval", unit="kWh"))
    assert (layout.kind, layout.header_lines) == ("interval", 0)
    with pytest.raises(ValueError, match="w is not a unit of counter"):
        read_layout(path, LayoutChoices(kind="counter", unit="W"))


def test_date_and_time_in_two_columns(written):
    layout = read_layout(written("date;time;W\n" + rows("{d:02}.02.2025;10:00:00;{i}")))
    assert (layout.time_columns, layout.value_column) == ((0, 1), 2)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings_are_told_apart(written, encoding):
    content = "Zeit;Größe W\n" + rows("2025-01-{d:02} 10:00;{i}")
    assert read_layout(written(content, encoding)).columns == ("Zeit", "Größe W")


def test_day_and_month_that_cannot_be_told_apart_are_asked_for(written):
    path = written("t;W\n" + "".join(f"01/02/2025 10:{i:02};{i}\n" for i in range(30)))
    with pytest.raises(ValueError, match="day or month first"):
        read_layout(path)
    assert read_layout(path, LayoutChoices(time_shape="month first")).time_shape == "month first"
    with pytest.raises(ValueError, match="no column holds times"):
        read_layout(path, LayoutChoices(time_shape="year first"))
    with pytest.raises(ValueError, match="week first is not one of"):
        read_layout(path, LayoutChoices(time_shape="week first"))


def test_several_number_columns_are_asked_about(written):
    path = written("t;W;V;kW\n" + rows("2025-01-{d:02} 10:00;{i};230;0.1"))
    with pytest.raises(ValueError, match="choose one of W, kW"):
        read_layout(path)
    assert read_layout(path, LayoutChoices(value_column="kW")).value_column == 3
    with pytest.raises(ValueError, match="there is no column A: t, W, V, kW"):
        read_layout(path, LayoutChoices(value_column="A"))


def test_time_columns_can_be_chosen(written):
    path = written("a;b;c;W\n" + rows("2025-01-{d:02} 10:00;2025-01-{d:02};11:00;{i}"))
    assert read_layout(path).time_columns == (0,)
    assert read_layout(path, LayoutChoices(time_columns=("b", "c"))).time_columns == (1, 2)
    with pytest.raises(ValueError, match="no column holds times"):
        read_layout(path, LayoutChoices(time_columns=("W",)))


def test_column_of_numbers_beside_the_time_is_needed(written):
    with pytest.raises(ValueError, match="no column holds numbers: t, state"):
        read_layout(written("t;state\n" + rows("17407872{d:02};on")))


def test_newest_first_and_usual_interval_are_seen(written):
    body = [f"2025-01-01 {10 + i // 60}:{i % 60:02};{i}\n" for i in range(120)]
    up = read_layout(written("t;W\n" + "".join(body)))
    down = read_layout(written("t;W\n" + "".join(reversed(body))))
    assert (up.newest_first, up.interval_s) == (False, 60.0)
    assert (down.newest_first, down.interval_s) == (True, 60.0)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "the file is empty"),
        (b" \r\n", "the file is empty"),
        (b"PK\x03\x04rest", "not a text file"),
        (b"\x89PNG\x00\x00", "not a text file"),
        (b"%PDF-1.7", "not a text file"),
        (b"just words\nmore words\n", "no columns"),
        (b"a;b\nx;y\n", "no row with a date, a time and a number"),
        (b"t;W\n2025-01-01 10:00;\n", "no row with a date, a time and a number"),
        (b"1," * 1_000_000, "longer than 65,536 bytes"),
        (b"1," * 600 + b"\n" + b"1," * 600 + b"\n", "more than 500 columns"),
        (
            b"t;W\n" + b"2025-01-01 10:00;1,5\n2025-01-01 10:01;1.5\n",
            "both decimal commas and points",
        ),
    ],
)
def test_files_of_another_kind_are_named(written, content, message):
    with pytest.raises(ValueError, match=message):
        read_layout(written(content))
