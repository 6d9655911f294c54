"""`alloyref dataset check`: the real data hold, and each kind of spoilt data is caught and named."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import read_dataset

Run = Callable[..., Result]


def edit(path: Path, key: str, value: str, **cells: str) -> dict[str, str]:
    """Change cells of the one row whose `key` is `value`; gives the row as it was."""
    with path.open(encoding="utf-8", newline="") as stream:
        reader = csv.DictReader(stream)
        header, rows = list(reader.fieldnames or ()), list(reader)
    found = [row for row in rows if row[key] == value]
    assert len(found) == 1
    old = dict(found[0])
    found[0].update(cells)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, header, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return old


def refused(run: Run, copy: Path, *says: str) -> None:
    """The check fails and names what is wrong, beside the seal of the version, which any change breaks."""
    result = run("dataset", "check", "--folder", str(copy))
    assert result.exit_code == 1, result.output
    assert [line for line in result.stderr.splitlines() if "fault" in line and "not those of version" not in line]
    assert [word for word in says if word not in result.stderr] == []
    assert "holds" not in result.stdout


def test_the_real_data_hold(run: Run, copy: Path) -> None:
    for arguments in ((), ("--folder", str(copy))):
        result = run("dataset", "check", *arguments)
        assert (result.exit_code, result.stderr) == (0, "")
        assert f"{len(read_dataset(copy).alloys)} alloys" in result.stdout


def test_an_unknown_source(run: Run, copy: Path) -> None:
    edit(copy / "alloys.csv", "id", "gold-917-yellow", composition_source="hearsay")
    refused(run, copy, "gold-917-yellow", "'hearsay'")


@pytest.mark.parametrize(
    "cell",
    [
        ("elements.csv", "symbol", "Au", "density_source"),
        ("units.csv", "symbol", "dwt", "source"),
        ("stones.csv", "id", "diamond", "source"),
        ("trade_rules.csv", "id", "flask-gold-small", "source"),
        ("constants.csv", "id", "air-density", "source"),
        ("cautions.csv", "id", "torch", "source"),
        ("bench_notes.csv", "id", "flux-platinum", "source"),
        ("gauges.csv", "diameter_in", "0.46", "source"),
        ("ring_sizes.csv", "size", "Z+6 1/2", "source"),
        ("colour_designations.csv", "designation", "4N", "source"),
        ("colour_designations.csv", "designation", "4N", "silver_source"),
    ],
)
def test_an_unknown_source_in_any_table(run: Run, copy: Path, cell: tuple[str, str, str, str]) -> None:
    table, key, value, column = cell
    edit(copy / table, key, value, **{column: "hearsay"})
    refused(run, copy, "'hearsay'")


@pytest.mark.parametrize(
    "claim",
    [
        ("units.csv", "symbol", "tola", {"status": "standard"}),
        ("stones.csv", "id", "moissanite", {"status": "handbook"}),
        ("units.csv", "symbol", "dwt", {"status": "from-memory"}),
        ("elements.csv", "symbol", "Rh", {"melting_point_status": "standard"}),
    ],
)
def test_a_standing_that_its_source_does_not_bear(
    run: Run, copy: Path, claim: tuple[str, str, str, dict[str, str]]
) -> None:
    table, key, value, cells = claim
    edit(copy / table, key, value, **cells)
    refused(run, copy, value, f"does not make it {next(iter(cells.values()))}")


CITING = [
    (path.name, column)
    for path in sorted(data_folder().glob("*.csv"))
    for column in path.read_text(encoding="utf-8").partition("\n")[0].split(",")
    if column == "source" or column.endswith("_source")
]
"""Every column of every table that cites a source."""


def test_the_citing_columns_are_found() -> None:
    assert ("alloys.csv", "composition_source") in CITING
    assert len({table for table, _ in CITING}) >= 12


@pytest.mark.parametrize(("table", "column"), CITING, ids=".".join)
@pytest.mark.parametrize("cited", ["", "hearsay"])
def test_no_value_goes_without_a_source(run: Run, copy: Path, table: str, column: str, cited: str) -> None:
    """In the first row of each table the cell is emptied, or names a source that is not there."""
    path = copy / table
    with path.open(encoding="utf-8", newline="") as stream:
        header, first, *rest = list(csv.reader(stream))
    assert first[header.index(column)]
    first[header.index(column)] = cited
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows([header, first, *rest])
    refused(run, copy, f"{table}:2: {column} is empty" if not cited else "'hearsay' is unknown")


def test_a_constant_outside_its_own_range(run: Run, copy: Path) -> None:
    edit(copy / "constants.csv", "id", "air-density", low="1.25")
    refused(run, copy, "air-density", "outside its own range")


def test_a_publication_that_is_not_in_the_bibliography(run: Run, copy: Path) -> None:
    (copy / "publications" / "its-90.csv").rename(copy / "publications" / "its-91.csv")
    refused(run, copy, "its-90")


def test_a_composition_that_does_not_sum(run: Run, copy: Path) -> None:
    edit(copy / "alloys.csv", "id", "gold-917-yellow", composition="Au 917 Ag 55 Cu 29")
    refused(run, copy, "alloys.csv:", "1001")


def test_a_solidus_above_the_liquidus(run: Run, copy: Path) -> None:
    name, row = melting_row(copy)
    publication, key = row.split("/")
    edit(copy / "publications" / f"{publication}.csv", "row", key, solidus="1500")
    refused(run, copy, name, "the solidus 1500 lies above the liquidus")


def melting_row(copy: Path) -> tuple[str, str]:
    """An alloy and the row that its melting range is served from."""
    for alloy in read_dataset(copy).alloys.values():
        for one in alloy.published:
            if one.property == "solidus" and one.preferred and len(alloy.published) <= 3:
                return alloy.id, one.row
    raise AssertionError("no alloy has a published solidus")


@pytest.mark.parametrize(
    ("factor", "says"), [(1.05, "3 % limit"), (0.95, "3 % limit"), (1.027, "2 % without a reason")]
)
def test_a_density_off_the_rule_without_a_reason(run: Run, copy: Path, factor: float, says: str) -> None:
    printed = edit(copy / "publications" / "silver-study-text.csv", "row", "ag-950")["density"]
    assert printed
    edit(copy / "publications" / "silver-study-text.csv", "row", "ag-950", density=f"{float(printed) * factor:.2f}")
    refused(run, copy, "silver-950", "silver-study-text/ag-950", says)


def test_a_reason_for_an_alloy_that_does_not_exist(run: Run, copy: Path) -> None:
    with (copy / "density_reasons.csv").open("a", encoding="utf-8") as stream:
        stream.write("unobtainium,it is very dense\n")
    refused(run, copy, "unobtainium")


@pytest.mark.parametrize(
    "table", ["alloys.csv", "elements.csv", "units.csv", "sources.csv", "trade_rules.csv", "publications/its-90.csv"]
)
@pytest.mark.parametrize(
    "change", [lambda line: line.replace("note", "notes"), lambda line: f"extra,{line}", str.upper]
)
def test_a_wrong_header(run: Run, copy: Path, table: str, change: Callable[[str], str]) -> None:
    path = copy / table
    first, rest = path.read_text(encoding="utf-8").split("\n", 1)
    path.write_text(f"{change(first)}\n{rest}", encoding="utf-8")
    refused(run, copy, table, "header")


def test_a_misprint_may_not_back_an_alloy(run: Run, copy: Path) -> None:
    misprint = next(
        key for key, row in read_dataset(copy).printed.items() if row.maybe("note").startswith("MISPRINT")
    )
    edit(copy / "alloys.csv", "id", "gold-917-yellow", rows=misprint)
    refused(run, copy, "alloys.csv:", misprint, "misprint")


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"rows": "its-90/unicorn"}, "its-90/unicorn"),
        ({"composition": "Au 917 Ag"}, "Au 917 Ag"),
        ({"composition": "Au 500 Au 500"}, "Au 500 Au 500"),
        ({"composition": "Xx 1000"}, "Xx"),
        ({"composition": "Au 1e3"}, ""),
        ({"composition": "Au ninehundred Cu 100"}, ""),
        ({"composition_status": "rumour"}, "rumour"),
        ({"name": ""}, "name"),
        ({"id": "fine-gold"}, "fine-gold"),
        ({"family": "silver"}, "gold-917-yellow"),
        ({"composition": "Au 917 Ag 32 Cu 51"}, "the same composition"),
    ],
)
def test_a_spoilt_alloy(run: Run, copy: Path, cells: dict[str, str], says: str) -> None:
    edit(copy / "alloys.csv", "id", "gold-917-yellow", **cells)
    refused(run, copy, says)


@pytest.mark.parametrize(
    "case",
    [
        ("elements.csv", "symbol", "Au", {"density": "193"}, "density of Au"),
        ("elements.csv", "symbol", "Au", {"density": "19,3"}, "elements.csv:"),
        ("elements.csv", "symbol", "Au", {"density_low": "19.31"}, "outside its own range"),
        ("elements.csv", "symbol", "Au", {"density_status": "sure"}, "sure"),
        ("units.csv", "symbol", "dwt", {"factor": "1.5x"}, "units.csv:"),
        ("units.csv", "symbol", "dwt", {"factor": "1/0"}, "units.csv:"),
        ("units.csv", "symbol", "dwt", {"dimension": "heft"}, "heft"),
        ("units.csv", "symbol", "dwt", {"aliases": "g"}, "belongs to both"),
        ("units.csv", "symbol", "dwt", {"aliases": "oz"}, "both taken and ambiguous"),
        ("gauges.csv", "diameter_in", "0.46", {"gauge": "000"}, "stands twice"),
        ("gauges.csv", "diameter_in", "0.46", {"gauge": "00000"}, "not what the rule gives"),
        ("gauges.csv", "diameter_in", "0.46", {"gauge": "4-0"}, "not a gauge number"),
        ("gauges.csv", "diameter_in", "0.46", {"aliases": "3/0"}, "is another gauge"),
        ("gauges.csv", "diameter_in", "0.46", {"system": "BWG"}, "no gauge system 'BWG'"),
        ("gauges.csv", "diameter_in", "0.464", {"diameter_in": "0.43"}, "SWG 5/0: it does not follow upon 6/0"),
        ("ring_sizes.csv", "size", "Z+6 1/2", {"circumference": "76.85"}, "not what the rule gives"),
        ("ring_sizes.csv", "size", "Z+6 1/2", {"diameter": "24.48"}, "not what the rule gives"),
        ("ring_sizes.csv", "size", "Z+6 1/2", {"size": "Z+6 2/4"}, "it is written Z+6 1/2"),
        ("ring_sizes.csv", "size", "Z+6 1/2", {"size": "AA"}, "not a UK size"),
        ("ring_sizes.csv", "size", "Z+6 1/2", {"system": "Mars"}, "no ring size system 'Mars'"),
        ("colour_designations.csv", "designation", "4N", {"fineness": "585"}, "not of fineness 585"),
        ("colour_designations.csv", "designation", "4N", {"silver_high": "89"}, "lies outside"),
        ("colour_designations.csv", "designation", "4N", {"composition": "Au 750 Ag 90"}, "840"),
        ("colour_designations.csv", "designation", "4N", {"composition": "Au 750 Xx 250"}, "Xx"),
        ("sources.csv", "id", "its-90", {"quality": "E"}, "quality"),
        ("sources.csv", "id", "its-90", {"quality": "AB"}, "quality"),
        ("sources.csv", "id", "wgc-carat-golds-memory", {"quality": "A"}, "quality D"),
    ],
)
def test_another_spoilt_table(run: Run, copy: Path, case: tuple[str, str, str, dict[str, str], str]) -> None:
    table, key, value, cells, says = case
    edit(copy / table, key, value, **cells)
    refused(run, copy, says)


def test_a_source_that_nothing_rests_on(run: Run, copy: Path) -> None:
    with (copy / "sources.csv").open("a", encoding="utf-8") as stream:
        stream.write("idle,trade,A leaflet,,C,yes,\n")
    refused(run, copy, "idle", "nothing rests on it")


@pytest.mark.parametrize(
    "spoil",
    [
        lambda folder: (folder / "dataset.toml").unlink(),
        lambda folder: (folder / "dataset.toml").write_text("version = ", encoding="utf-8"),
        lambda folder: (folder / "dataset.toml").write_text('version = "1"\n', encoding="utf-8"),
        lambda folder: (folder / "units.csv").unlink(),
        lambda folder: (folder / "units.csv").write_bytes(b"\xff\xfe"),
        lambda folder: (folder / "units.csv").write_text("", encoding="utf-8"),
        lambda folder: (folder / "patterns.csv").write_text(
            (folder / "patterns.csv").read_text(encoding="utf-8") + "short,row\n", encoding="utf-8"
        ),
        lambda folder: (folder / "patterns.csv").write_text(
            (folder / "patterns.csv").read_text(encoding="utf-8") + '"unclosed', encoding="utf-8"
        ),
    ],
    ids=[
        "no dataset",
        "broken dataset",
        "no changes",
        "no table",
        "no text",
        "empty table",
        "short row",
        "open quote",
    ],
)
def test_a_folder_that_is_no_dataset(run: Run, copy: Path, spoil: Callable[[Path], object]) -> None:
    spoil(copy)
    refused(run, copy)


@pytest.mark.parametrize(
    ("line", "instead", "says"),
    [
        ("75,12,13,", "75,12,14,900.0,910.0", "gold 75 and silver 12 should stand here"),
        ("75,12,13,", "75,12,13,900.0,890.0", "the solidus lies above the liquidus"),
        ("75,12,13,", "75,12,13,900.0,91", "is not a temperature of this table"),
        ("75,12,13,", None, "gold 75 and silver 12 should stand here"),
        ("100,0,0,", None, "from gold 100, silver 0 on are missing"),
        ("100,0,0,", "100,0,0,1064.18,1064.18\n100,0,0,1064.18,1064.18", "already complete"),
        ("100,0,0,", "100,0,0,1063.0,1063.0", "pure Au does not melt at its melting point"),
    ],
)
def test_a_spoilt_melting_table(run: Run, copy: Path, line: str, instead: str | None, says: str) -> None:
    path = copy / "melting_nodes.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    changed = [instead if one.startswith(line) else one for one in lines]
    assert changed != lines
    path.write_text("\n".join(one for one in changed if one is not None) + "\n", encoding="utf-8")
    refused(run, copy, "melting_nodes.csv", says)
