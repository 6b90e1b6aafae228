"""A coverage-guided fuzz target (atheris) for the loader, the overlay and the rule compiler.

    python tests/knowledge/fuzz_knowledge.py -max_total_time=600

Anything but a whole load or a KnowledgeError is a find.
"""

import shutil
import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["chopstick.engine.knowledge", "chopstick.engine.reasoning.deduce"]):
    from chopstick.engine.knowledge import load
    from chopstick.engine.knowledge.layers import Layer
    from chopstick.engine.reasoning.deduce import Deducer
    from chopstick.engine.reference.errors import KnowledgeError

WORDS = (
    "area: knobs\n", "rules:\n", "  r: ", "amend: ", "retire: ", "words: ", "{", "}", "[", "]", ", ", ": ", "\n", "  ",
    "when", "then", "because", "finding", "denied", "unknown", "all", "any", "not", "of", "at_least", "at_most", "value",
    "above", "below", "spoken", "since", "answer", "is", "raise", "by", "clearly", "conclude", "hold", "skip", "advice",
    "causes", "checks", "repairs", "holds", "findings", "symptoms", "dc-on-pot", "track-dirty", "turn-it", "measure-it",
    "measure-it/pot", "clean-it", "crackle", "null", "true", "1", "0.5", "minutes", "cautions", "safety", "shows", "x",
)  # fmt: skip


def _root() -> Path:
    """The small base of this folder's tests."""
    sys.path.insert(0, str(Path(__file__).parents[2]))
    from tests.knowledge.conftest import AREA, write_area

    root, shipped = Path(tempfile.mkdtemp()), load.shipped()
    for name in ("common.yaml", "sources.yaml"):
        shutil.copy(shipped / name, root / name)
    shutil.copytree(shipped / "reference", root / "reference")
    write_area(root, "knobs", pot=AREA)
    figures = load.tables.read(root)
    load.tables.read = lambda _: figures  # not what is fuzzed, and most of the time
    return root


ROOT = _root()
OURS = ROOT.parent / f"{ROOT.name}.yaml"


def one(data: bytes) -> None:
    """Every second input is raw bytes; the others are words of the file format, chosen by the bytes."""
    words = "".join(WORDS[byte % len(WORDS)] for byte in data[1:]).encode()
    OURS.write_bytes(words if data[:1] and data[0] % 2 else data[1:])
    try:
        Deducer(load.load(ROOT, [Layer("shop", "shop", OURS)]))
    except KnowledgeError as refused:
        assert refused.problems


def _starts() -> Path:
    """A folder of files to start from: those of the tests."""
    from tests.knowledge.test_overlay import EARTH, MISTAKES, REFUSED, STRICTER
    from tests.knowledge.test_rule_lints import CASES

    texts = [*(text for text, *_ in (*MISTAKES, *REFUSED)), *STRICTER, *(f"rules:\n{text}" for text, *_ in CASES)]
    folder = Path(tempfile.mkdtemp())
    for number, text in enumerate([EARTH, *(f"area: knobs\n{text}" for text in texts)]):
        (folder / f"start-{number}").write_text(f" {text}")
    return folder


if __name__ == "__main__":
    sys.argv.append(str(_starts()))
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()
