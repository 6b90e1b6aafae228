"""One reader given to atheris, a coverage-guided fuzzer: `python -m tests.fuzz.one READER FINDS -max_total_time=240`.

Anything but a taken or a refused input is a find: its bytes and its traceback are kept in the folder FINDS, once for
each place it comes from, and the run goes on. Counts are printed as it goes.
"""

import sys
import tempfile
import traceback
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["chopstick.engine", "chopstick.cli"]):
    from .readers import READERS, Reader

MOST = 1500  # bytes of an input: edits and pieces say much with few
SETTINGS = (f"-max_len={MOST}", "-len_control=0", "-timeout=60", "-rss_limit_mb=2000", "-verbosity=0")


class Fuzzed:
    """Counts what is read, and keeps the finds."""

    def __init__(self, name: str, reader: Reader, finds: Path) -> None:
        self.name, self.reader, self.finds = name, reader, finds
        self.inputs = self.taken = 0
        self.places: set[tuple[str, str, int | None]] = set()

    def one(self, data: bytes) -> None:
        self.inputs += 1
        try:
            self.taken += self.reader.one(data)
        except Exception as error:
            self._keep(data, error)
        if self.inputs % 100 == 0:
            print(f"{self.name}: {self.inputs} inputs, {self.taken} taken, {len(self.places)} finds", flush=True)

    def _keep(self, data: bytes, error: Exception) -> None:
        last = traceback.extract_tb(error.__traceback__)[-1]
        place = (type(error).__name__, last.filename, last.lineno)
        if place not in self.places:
            self.places.add(place)
            kept = self.finds / f"{self.name}-{len(self.places)}"
            kept.with_suffix(".bytes").write_bytes(data)
            kept.with_suffix(".txt").write_text(
                "".join(traceback.format_exception(error)) + repr(self.reader.meant(data))
            )


def main(name: str, finds: Path, *settings: str) -> None:
    finds.mkdir(parents=True, exist_ok=True)
    reader = READERS[name]()
    starts = Path(tempfile.mkdtemp(prefix="chopstick-starts-"))
    for number, start in enumerate(reader.starts):
        (starts / f"as-it-is-{number}").write_bytes(b"\0" + start[: MOST - 1])
        (starts / f"edits-{number}").write_bytes(bytes([2, number % 256]))
    atheris.Setup([sys.argv[0], *SETTINGS, *settings, str(starts)], Fuzzed(name, reader, finds).one)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), *sys.argv[3:])
