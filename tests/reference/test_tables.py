"""The reference tables: every row has a source, a kind, a range and a user."""

from pathlib import Path

import pytest

from planner.errors import ReferenceTableError
from planner.reference.tables import KINDS, TABLES, row, sources, table, value

PACKAGE = Path(__file__).parents[2] / "planner"
ROWS = [pytest.param(r, id=f"{name}.{r.key}") for name in TABLES for r in table(name).values()]

#: What a value may be at all, by unit: a slip of a factor of ten shows here.
POSSIBLE = {
    "-": (-1.0, 1000.0),
    "m": (1e-5, 2000.0),
    "m/s": (0.0, 60.0),
    "degC": (-60.0, 120.0),
    "K": (0.0, 60.0),
    "mm": (0.0, 100.0),
    "min": (0.0, 1000.0),
    "h": (0.0, 100.0),
    "N": (0.0, 5000.0),
    "N/m": (0.0, 20000.0),
    "W": (50.0, 1000.0),
    "W/m2": (0.0, 1500.0),
    "lx": (0.001, 150000.0),
    "%": (0.0, 100.0),
    "km": (0.0, 1000.0),
    "1/K": (0.0, 0.1),
    "kg/m3": (500.0, 8000.0),
}


@pytest.mark.parametrize("entry", ROWS)
def test_row_is_whole(entry):
    """Source known, kind known, value between its own low and high."""
    assert entry.source in sources()
    assert entry.kind in KINDS
    assert entry.low <= entry.value <= entry.high
    assert entry.kind != "practice" or "practice" in entry.source


@pytest.mark.parametrize("entry", ROWS)
def test_value_is_possible_for_its_unit(entry):
    """A value lies in the physical range of its unit, where the unit has one here."""
    low, high = POSSIBLE.get(entry.unit, (float("-inf"), float("inf")))
    assert low <= entry.value <= high


def test_every_row_is_used():
    """A row that no code asks for is taken out; so is a source that no row names."""
    code = "\n".join(file.read_text(encoding="utf-8") for file in PACKAGE.rglob("*.py"))
    keys = [(name, key) for name in TABLES for key in table(name)]
    assert not [x for x in keys if f'"{x[1]}"' not in code and not _composed(x[1], code)]
    used = {entry.values[0].source for entry in ROWS}
    assert set(sources()) == used


def _composed(key: str, code: str) -> bool:
    """Whether code puts the key together: f"{kind}_absorptance", f"alpha_{at}"."""
    pieces = key.split("_")
    for cut in range(1, len(pieces)):
        head, tail = "_".join(pieces[:cut]), "_".join(pieces[cut:])
        if f'f"{head}_{{' in code or f'}}_{tail}"' in code:
            return True
    return False


def test_unknown_key_suggests_and_never_picks():
    """A near miss raises and names its neighbours."""
    with pytest.raises(ReferenceTableError, match="pace_spread") as error:
        value("labour", "pace_sprad")
    assert "pace_spread" in error.value.suggestions
    with pytest.raises(ReferenceTableError, match="terrain"):
        table("terain")


def test_look_up_is_exact():
    """The row that comes back is the one that was asked for."""
    assert row("labour", "pace_spread").key == "pace_spread"
