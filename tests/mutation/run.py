"""How many small errors in the program the tests would notice.

`python -m tests.mutation.run engine/bench --tests tests/bench tests/published --sample 300` plants one error at a time
in a copy of the checkout (a sign turned, a comparison widened, a constant off by one ...: cosmic-ray's operators), runs
the tests that pass that line, cheapest first, and lists the errors that no test noticed. Needs cosmic-ray and coverage:
`pip install '.[mutation]'`. Survivors that can't be noticed, since they change nothing, stand in explained.yaml with
the reason. A run is for a quiet hour: some seconds an error, minutes for a survivor that every test may feel (`--most 30`
leaves out the dearest). `--part 0/2` and `--part 1/2` share the work of one run.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).parents[2]
EXPLAINED = Path(__file__).with_name("explained.yaml")
SLACK_S = 20.0
PYTEST = ("-q", "-p", "no:cacheprovider", "-p", "no:xdist", "--hypothesis-seed=0")  # the same examples every time
SUMS = ("arith_expr", "term", "power", "shift_expr", "expr", "xor_expr", "and_expr")  # where an operator has two sides
LIBRARIES = ("pytest", "hypothesis", "numpy", "pydantic", "rich.console", "typer.testing")  # slow to import


@dataclass(frozen=True)
class Mutant:
    """An error to plant. place: the function or class it is in; line: the text of the line it starts on."""

    path: str
    operator: str
    occurrence: int
    row: int
    last_row: int
    column: int
    place: str
    line: str


@dataclass(frozen=True)
class Touched:
    """What each test passes. lines: {(path, row): tests}, "" for what runs at import; seconds: {test: its time}."""

    lines: dict[tuple[str, int], set[str]]
    seconds: dict[str, float]

    def tests(self, mutant: Mutant) -> list[str]:
        """The tests that pass the error, cheapest first; all of them when it stands at import.

        A constant, a default or a decorator is felt by tests that never come to a line of its module.
        """
        found: set[str] = set()
        for row in range(mutant.row, mutant.last_row + 1):
            found |= self.lines.get((mutant.path, row), set())
        if "" in found:
            found = set(self.seconds)
        return sorted(found - {""}, key=lambda test: (self.seconds.get(test, 0.0), test))


def mutants(files: Iterable[Path], root: Path) -> Iterator[Mutant]:
    """Every error that cosmic-ray can plant; not in type annotations, and not `is` for `==`, which numbers hide."""
    from cosmic_ray.ast import ast_nodes, get_ast_from_path
    from cosmic_ray.ast.ast_query import ASTQuery
    from cosmic_ray.plugins import get_operator, operator_names

    for file in files:
        text = file.read_text()
        rows, skipped, tree = text.splitlines(), _annotations(text), get_ast_from_path(file)
        for name in operator_names():
            operator = get_operator(name)
            if operator.arguments() or (name.endswith(("_Is", "_IsNot")) and "Operator_Is" not in name):
                continue
            places = ((node, *at) for node in ast_nodes(tree) for at in operator().mutation_positions(node))
            for occurrence, (node, start, end) in enumerate(places):
                if not _no_error(name, node) and not any(first <= start < last for first, last in skipped):
                    yield Mutant(
                        str(file.relative_to(root)), name, occurrence, start[0], end[0], start[1],
                        ASTQuery(node).get_definition_name() or "", rows[start[0] - 1].strip(),
                    )  # fmt: skip


def _no_error(operator: str, node: Any) -> bool:
    """The star of a list of parameters is no product, `==` says of what there is one of what `is` says, and the strict
    of a zip guards against what can't be."""
    if operator.endswith(("_Is_Eq", "_IsNot_NotEq")):
        return True
    if "BinaryOperator" in operator:
        return node.parent.type not in SUMS
    return node.parent.type == "argument" and getattr(node.parent.children[0], "value", "") == "strict"


def _annotations(text: str) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    found = []
    for node in ast.walk(ast.parse(text)):
        for name in ("annotation", "returns"):
            one = getattr(node, name, None)
            if one is not None:
                found.append(((one.lineno, one.col_offset), (one.end_lineno, one.end_col_offset)))
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            found.append(((node.lineno, 0), (node.end_lineno or node.lineno, 999)))
    return found


def sample(every: Sequence[Mutant], count: int, seed: int) -> list[Mutant]:
    """A draw by place, so that an operator with eleven others to put for it does not crowd out the rest."""
    draw, places = random.Random(seed), dict[tuple[str, int, int, str], list[Mutant]]()
    for one in every:
        kind = one.operator.split("_")[0]
        places.setdefault((one.path, one.row, one.column, kind), []).append(one)
    chosen = draw.sample(sorted(places), min(count, len(places)))
    return [draw.choice(places[place]) for place in chosen]


def survivors(every: Iterable[Mutant], told: Iterable[str]) -> list[Mutant]:
    """The errors that survived an earlier run, as its file tells them, where they stand now; a line may have moved."""
    before = [json.loads(line) for line in told]
    left = {
        tuple(one[name] for name in ("path", "operator", "place", "line"))
        for one in before if one["verdict"] not in ("killed", "explained")
    }  # fmt: skip
    return [one for one in every if (one.path, one.operator, one.place, one.line) in left]


class Bench:
    """A copy of the checkout in which errors are planted and tests run, each in a process of its own."""

    def __init__(self, folder: Path) -> None:
        self.clone, farm = folder / "clone", folder / "farm"
        subprocess.run(["git", "clone", "-q", "--shared", str(ROOT), str(self.clone)], check=True)
        (farm / "chopstick").mkdir(parents=True)
        for room in ("kb", "engine", "cli"):
            (farm / "chopstick" / room).symlink_to(self.clone / room)
        os.environ |= {"PYTHONPATH": str(farm), "OPENBLAS_NUM_THREADS": "1", "XDG_CACHE_HOME": str(folder / "cache")}
        sys.path.insert(0, str(farm))
        os.chdir(self.clone)
        for library in LIBRARIES:  # once, for all the processes to come
            importlib.import_module(library)

    def touched(self, room: Path, tests: Sequence[str]) -> Touched:
        """Every test once, with what it passes. Raises RuntimeError if one fails without any error planted."""
        kept = self.clone / "touched.json"
        if self._apart(lambda: _measure(room, tests, kept), 3600) != 0:
            raise RuntimeError("a test fails as it is: " + (self.clone / "said").read_text()[-2000:])
        told = json.loads(kept.read_text())
        lines = {(path, int(row)): set(names) for path, rows in told["lines"].items() for row, names in rows.items()}
        return Touched(lines, told["seconds"])

    def verdict(self, mutant: Mutant, touched: Touched, most_s: float) -> str:
        """'killed', 'survived', or 'unseen' when no test passes the line."""
        tests = touched.tests(mutant)
        if not tests:
            return "unseen"
        cost, some = 0.0, list[str]()
        for test in tests:
            cost += touched.seconds.get(test, 0.0)
            if cost <= most_s or not some:
                some.append(test)
        with self._planted(mutant) as planted:
            if not planted:
                return "unplanted"
            if self._apart(lambda: _pytest(some), SLACK_S + 5 * min(cost, most_s)) != 0:
                return "killed"
        return "survived"

    @contextlib.contextmanager
    def _planted(self, mutant: Mutant) -> Iterator[bool]:
        from cosmic_ray.mutating import mutate_code
        from cosmic_ray.plugins import get_operator

        file = self.clone / mutant.path
        before = file.read_text()
        after = mutate_code(before, get_operator(mutant.operator)(), mutant.occurrence)
        try:
            if after is not None:
                self._put(file, after)
            yield after is not None
        finally:
            self._put(file, before)

    def _put(self, file: Path, text: str) -> None:
        file.write_text(text)
        for compiled in (file.parent / "__pycache__").glob(f"{file.stem}.*"):
            compiled.unlink()  # a compiled file is told from its source by seconds and size, which may be the same

    def _apart(self, what: Any, limit_s: float) -> int:
        """A function in a process of its own, stopped with all its children after a time. 0 when all went well."""
        child = os.fork()
        if child == 0:
            os.setsid()
            said = os.open(self.clone / "said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(said, 1)
            os.dup2(said, 2)
            code = 1
            with contextlib.suppress(BaseException):
                code = int(what())
            os._exit(code)
        begun = time.monotonic()
        while time.monotonic() - begun < limit_s:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                with contextlib.suppress(ProcessLookupError):
                    os.killpg(child, signal.SIGKILL)
                return os.waitstatus_to_exitcode(status)
            time.sleep(0.02)
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return 99


class _Chosen:
    """Runs some tests only, in their order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.place = {test: number for number, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = sorted((one for one in items if one.nodeid in self.place), key=lambda one: self.place[one.nodeid])


def _pytest(tests: Sequence[str]) -> int:
    import pytest

    files = list(dict.fromkeys(test.split("::")[0] for test in tests))
    return pytest.main(["-x", *PYTEST, *files], plugins=[_Chosen(tests)])


class _Watched:
    """Tells coverage which test runs, and how long it took."""

    def __init__(self, coverage: Any) -> None:
        self.coverage, self.seconds = coverage, dict[str, float]()

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self.coverage.switch_context(nodeid)
        self.seconds[nodeid] = -time.perf_counter()

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        self.seconds[nodeid] += time.perf_counter()
        self.coverage.switch_context("")


def _measure(room: Path, tests: Sequence[str], kept: Path) -> int:
    import coverage
    import pytest

    root = Path.cwd()
    watching = coverage.Coverage(include=[f"{room}/*"], data_file=None)
    watched = _Watched(watching)
    watching.start()
    code = pytest.main([*PYTEST, *tests], plugins=[watched])
    watching.stop()
    data = watching.get_data()
    lines = {str(Path(f).relative_to(root)): data.contexts_by_lineno(f) for f in data.measured_files()}
    kept.write_text(json.dumps({"lines": lines, "seconds": watched.seconds}))
    return int(code)


def explained(mutant: Mutant, known: Sequence[dict[str, Any]]) -> bool:
    """Whether it is known that this error changes nothing that can be noticed."""
    return any(
        one["in"] == f"{mutant.path}: {mutant.place}"
        and one["line"] == mutant.line
        and any(mutant.operator.endswith(name) for name in one["errors"])
        for one in known
    )


def main() -> None:
    """Runs, tells every survivor at once, and writes each verdict to a file."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("room", help="engine/bench, engine/reasoning, or one module")
    ask.add_argument("--tests", nargs="+", required=True)
    ask.add_argument("--sample", type=int, default=300)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--part", default="0/1")
    ask.add_argument("--again", type=Path, help="plant what survived in this file of an earlier run, and nothing else")
    ask.add_argument("--most", type=float, default=150.0, help="seconds of tests an error, the dearest left out")
    ask.add_argument("--into", type=Path, default=Path("mutants.jsonl"))
    told = ask.parse_args()
    into, (part, parts) = told.into.resolve(), map(int, told.part.split("/"))
    known = yaml.safe_load(EXPLAINED.read_text()) or []
    again = told.again.read_text().splitlines() if told.again else []
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        room = bench.clone / told.room
        files = sorted(room.glob("*.py")) if room.is_dir() else [room]
        every = list(mutants(files, bench.clone))
        drawn = survivors(every, again) if again else sample(every, told.sample, told.seed)
        drawn = drawn[part::parts]
        print(f"{len(every)} errors can be planted; {len(drawn)} drawn", flush=True)
        touched = bench.touched(files[0].parent, told.tests)
        print(f"{len(touched.seconds)} tests, {sum(touched.seconds.values()):.0f} s", flush=True)
        count: Counter[str] = Counter()
        with into.open("a") as stream:
            for mutant in drawn:
                verdict = "explained" if explained(mutant, known) else bench.verdict(mutant, touched, told.most)
                count[verdict] += 1
                stream.write(json.dumps({**asdict(mutant), "verdict": verdict}) + "\n")
                stream.flush()
                if verdict not in ("killed", "explained"):
                    print(f"{verdict}: {mutant.path}:{mutant.row}:{mutant.column} {mutant.place}", flush=True)
                    print(f"    {mutant.operator} (number {mutant.occurrence}) in: {mutant.line}", flush=True)
        print(dict(count))


if __name__ == "__main__":
    main()
