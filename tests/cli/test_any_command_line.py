"""Whatever stands on the command line: an exit code with a meaning, and never a crash."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.cli.main import COMMANDS, app
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from ..amount import amount

WORDS = st.one_of(
    st.sampled_from([*COMMANDS, "list", "show", "check", "report", "explain", "why-not", "volts", "rank", "lows", "search", "learned"]),
    st.sampled_from(["--json", "--help", "--why", "--undo", "--yes", "--whole", "--plain", "--level", "junior", "--format", "md", "--page"]),
    st.sampled_from(["1", "0", "-1", "99999999999999999999", "crackle", "track-dirty", "sweep-ohms=smooth", "plates.plate-volts=287,4", "=", "a=b=c"]),
    st.sampled_from(["bias.plate_dissipation_percent", "plate_V=398", "plate_V=nan", "cathode_mA=-1e999", "single-ended-6v6gt", "v1a.plate=1kV"]),
    st.sampled_from(["/dev/null", "/nowhere/at/all", "../../etc/passwd", "\x1b[2J", "'; DROP TABLE jobs; --", "${HOME}", "%n%s"]),
    st.text(max_size=12),
)  # fmt: skip


@given(words=st.lists(WORDS, max_size=6))
@settings(max_examples=amount(25, 800))
def test_any_command_line_ends_with_a_meaning(
    words: list[str], tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    here: Path = tmp_path_factory.mktemp("line")
    monkeypatch.chdir(here)
    places = {"CHOPSTICK_JOBS": str(here), "CHOPSTICK_USER": str(here / "user"), "XDG_CACHE_HOME": str(here / "cache")}
    ran = CliRunner(env=places).invoke(app, words, input="")
    assert ran.exception is None or isinstance(ran.exception, SystemExit), repr(ran.exception)
    assert ran.exit_code in (0, 1, 2, 3)
    assert "Traceback" not in ran.output
