"""Every reader of what others write, as one function of bytes each: what is read is taken whole, or refused in words.

A `Reader` reads once: it returns whether the input was taken, and raises for anything but a refusal. What holds of what
was taken is asserted there. `one.py` gives a reader to a coverage-guided fuzzer; `test_readers.py` a few inputs of
hypothesis's in every run.
"""

from __future__ import annotations

import hashlib
import json
import math
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from chopstick.cli.papers.checklist import checklist
from chopstick.cli.screen.screen import clean
from chopstick.cli.sitting import amp_words, filled_sheet
from chopstick.engine.bench import notation
from chopstick.engine.bench.units import UNITS
from chopstick.engine.circuit.chart import NoOperatingPoint, chart
from chopstick.engine.circuit.files import archetypes, load_circuit
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.store import Store, open_store
from chopstick.engine.jobs.store.transfer import backup, exported, incoming_stream, restore, take_in
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.reasoning import words
from chopstick.engine.reasoning.answers import AnswerError
from chopstick.engine.reasoning.deduce import Deducer
from chopstick.engine.reasoning.log import Answer, Complaint, HoldAnswered, LogEntry, Note, Opened, Reading, Undone
from chopstick.engine.reasoning.script import read_answers, run
from chopstick.engine.reasoning.session import Session
from chopstick.engine.reference.errors import KnowledgeError

AT = datetime(2026, 1, 1, 9, 30, tzinfo=UTC)
SMALL = Path(__file__).parents[1] / "cli" / "kb"
JOB = Path(__file__).parents[1] / "cli" / "job.yaml"
QUICK = Path("/dev/shm")  # what is forced to the disk costs nothing there


@dataclass(frozen=True)
class Reader:
    """starts: what it takes, to begin from. pieces: bytes that mean something to it. read: see above."""

    starts: Sequence[bytes]
    pieces: Sequence[bytes]
    read: Callable[[bytes], bool]

    def one(self, data: bytes) -> bool:
        """Read what some bytes say: as they are, as pieces in a row, or as edits of one of the starts."""
        return self.read(self.meant(data))

    def meant(self, data: bytes) -> bytes:
        if not data or data[0] % 4 == 0:
            return data[1:]
        if data[0] % 4 == 1:
            return b"".join(self.pieces[byte % len(self.pieces)] for byte in data[1:])
        text = self.starts[data[1] % len(self.starts)] if len(data) > 1 else b""
        for at in range(2, len(data) - 3, 4):
            place = int.from_bytes(data[at : at + 2], "big") * (len(text) + 1) >> 16
            what, byte = data[at + 2], data[at + 3]
            new = self.pieces[byte % len(self.pieces)] if what & 1 else bytes([byte])
            gone = (0, 1, len(new), what >> 3)[what >> 1 & 3]
            text = text[:place] + (b"" if what & 128 else new) + text[place + gone :]
        return text


def folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="chopstick-fuzz-", dir=QUICK if QUICK.is_dir() else None))


@cache
def session() -> Session:
    return Session(load.load(SMALL))


def some_log() -> list[LogEntry]:
    return [
        Opened(at=AT, title="Small combo", fingerprint="f" * 64, amp={"power-tube": "6V6GT"}),
        Complaint(at=AT, says="it crackles", symptom="crackle"),
        HoldAnswered(at=AT, hold="discharged", cleared=True),
        Answer(at=AT, check="look-at-cord", answer="no"),
        Reading(at=AT, check="plates", values={"plate-volts": 462.5, "cathode-current": 28.0}),
        Note(at=AT, text="é"),
        Undone(at=AT, number=6),
    ]


def some_store(where: Path) -> Store:
    store = open_store(where)
    first = some_log()[0]
    assert isinstance(first, Opened)
    store.create(first, *some_log()[1:])
    store.create(Opened(at=AT, title="two", fingerprint="f"))
    return store


def whole(store: Store) -> bool:
    """What must hold of a store after anything was taken in or refused: it is sound, reads, and takes a backup."""
    assert problems(store) == []
    jobs = list(store.jobs())
    assert len(jobs) == len(store.listed())
    for job in jobs:
        assert session().read(job.log).next
    if jobs:
        copy = store.folder / "copy.sqlite"
        backup(store, copy)
        copy.unlink()
    return True


def layer() -> Reader:
    """A layer's file of knowledge, over the small base of the knowledge tests; and a shop's price list in one."""
    from ..knowledge.conftest import AREA, write_area
    from ..knowledge.test_overlay import EARTH, MISTAKES, REFUSED, STRICTER
    from ..knowledge.test_rule_lints import CASES

    root, shipped = folder(), load.shipped()
    for name in ("common.yaml", "sources.yaml"):
        shutil.copy(shipped / name, root / name)
    shutil.copytree(shipped / "reference", root / "reference")
    write_area(root, "knobs", pot=AREA)
    ours = folder() / "ours.yaml"

    def read(data: bytes) -> bool:
        ours.write_bytes(data)
        try:
            base = load.load(root, [Layer("shop", "shop", ours)])
            Deducer(base)
        except KnowledgeError as refused:
            assert refused.problems
            assert all(one.message and one.where.line >= 1 for one in refused.problems)
            return False
        for repair in base.repairs.values():
            for part in repair.parts:
                price = base.price_of(part)
                assert price is None or math.isfinite(price.each)
        return True

    texts = [*(text for text, *_ in (*MISTAKES, *REFUSED)), *STRICTER, *(f"rules:\n{text}" for text, *_ in CASES), PRICES]
    starts = [EARTH, *(f"area: knobs\n{text}" for text in texts)]
    return Reader([one.encode() for one in starts], LAYER_WORDS, read)


PRICES = """\
shop: {currency: EUR, hour: 60, warranty_days: 90}
prices:
  film-capacitor: {name: Film capacitor, each: 2.5, currency: EUR, part: film capacitor}
  cleaner: {name: A shot of cleaner, each: 0.5, currency: EUR, part: contact cleaner}
  big: {name: Big one, each: 9, currency: EUR, part: film capacitor, rating: 630 V}
"""


def price_list() -> Reader:
    """A shop's prices and terms."""
    made = layer()
    pieces = (b"prices", b"each", b"currency", b"part", b"value", b"rating", b"name", b"shop", b"hour", b"EUR", b"warranty_days", b"-1",
              b"1e999", b".nan", b"0x10", b"1_000", b"2,5", b"null", b"film-capacitor", b"630 V", b": ", b"{", b"}", b"\n", b"  ", b"[", b"]")  # fmt: skip
    return Reader([f"area: knobs\n{PRICES}".encode()], pieces, made.read)


LAYER_WORDS = tuple(word.encode() for word in (
    "area: knobs\n", "rules:\n", "  r: ", "amend: ", "retire: ", "words: ", "{", "}", "[", "]", ", ", ": ", "\n", "  ",
    "when", "then", "because", "finding", "denied", "unknown", "all", "any", "not", "of", "at_least", "at_most", "value",
    "above", "below", "spoken", "since", "answer", "is", "raise", "by", "clearly", "conclude", "hold", "skip", "advice",
    "causes", "checks", "repairs", "holds", "findings", "symptoms", "dc-on-pot", "track-dirty", "turn-it", "measure-it",
    "measure-it/pot", "clean-it", "crackle", "null", "true", "1", "0.5", "minutes", "cautions", "safety", "shows", "x",
    "prices", "terms", "circuits", "parts", "shop", "&a ", "*a", "!!python/name:os.system ", "<<", "? ", "---\n", "|\n",
))  # fmt: skip


def exported_jobs() -> Reader:
    """Jobs as lines of JSON, taken into a store that has some of them."""
    store = some_store(folder() / "from")
    told = [json.loads(line) for line in exported(store)]
    bare = [{name: value for name, value in one.items() if name != "sha256"} for one in told]
    every: list[LogEntry] = some_log()
    pieces = [json.dumps(entry.model_dump(mode="json")).encode() + b"," for entry in every]
    pieces += [key.encode() for key in ('"entries":[', '"number":', '"shape":"chopstick job 1",', '"sha256":"', '"kind":"', '"at":"')]
    pieces += [b"{", b"}", b"]", b"]}", b"\n", b"1", b"999999999", b"1e400", b"NaN", b"-0", b"null", b'"', b"\\ud800", b"\\u0000", b"\xff", b"undone", b"arrived", b"awaited", b"closed", b"2999-12-31T23:59:59-23:59", b"1970-01-01T00:00:00Z", b"details", b"photo", b"approved"]
    starts = [json.dumps(one).encode() for one in (*bare, *told)]

    def read(data: bytes) -> bool:
        where = folder()
        try:
            file = where / "in.jsonl"
            file.write_bytes(data)
            store = some_store(where / "to") if len(data) % 2 else open_store(where / "to")
            try:
                with file.open("rb") as stream:
                    found = incoming_stream(stream, "in.jsonl")
                take_in(store, found)
            except JobError as refused:
                assert str(refused)
                return False
            whole(store)
            again = incoming_stream(_Lines(exported(store)), "again")
            assert not any(one.added or one.new for one in take_in(store, again))
            return bool(found)
        finally:
            shutil.rmtree(where)

    return Reader(starts, pieces, read)


class _Lines:
    """Lines as a stream of bytes that `incoming_stream` reads."""

    def __init__(self, lines: object) -> None:
        self._lines = iter(lines)  # type: ignore[call-overload]

    def readline(self, _: int = -1) -> bytes:
        return next((f"{line}\n".encode() for line in self._lines), b"")


STATEMENTS = (
    "DROP TRIGGER entries_update_refused", "DROP TRIGGER entries_delete_refused", "DROP TRIGGER entries_replace_refused",
    "DROP TRIGGER IF EXISTS jobs_update_refused; DROP TRIGGER IF EXISTS jobs_delete_refused",
    "UPDATE entries SET body = replace(body, '462.5', '310')", "UPDATE entries SET number = number + 1",
    "UPDATE entries SET body = NULL", "UPDATE entries SET body = x'ff00fe'", "UPDATE entries SET at = 'yesterday'",
    "UPDATE entries SET at = 5", "UPDATE entries SET kind = 'note'", "UPDATE entries SET hash = ''", "DELETE FROM entries",
    "UPDATE entries SET place = -place", "DELETE FROM entries WHERE number = 1", "DELETE FROM jobs",
    "INSERT INTO jobs VALUES (2147483648)", "INSERT INTO jobs VALUES (7)", "UPDATE jobs SET number = number + 999999998",
    "PRAGMA foreign_keys = OFF", "INSERT INTO schema_version VALUES (99, 'x')", "DELETE FROM schema_version",
    "CREATE TRIGGER quiet BEFORE INSERT ON entries WHEN NEW.kind='answer' BEGIN SELECT RAISE(IGNORE); END",
    "CREATE VIEW more AS SELECT * FROM entries", "CREATE TABLE more (a)", "ALTER TABLE entries ADD COLUMN more",
    "ALTER TABLE entries RENAME TO old", "CREATE VIEW entries AS SELECT * FROM old", "DROP TABLE entries",
    "INSERT INTO shop_marks (name, at) VALUES ('learning', '9999')", "INSERT INTO shop_marks (name, at) VALUES (1, 2)",
    "INSERT INTO taken_over VALUES ('1.job', 1)", "INSERT INTO taken_over VALUES ('x', 99)", "PRAGMA user_version = 9",
    "PRAGMA application_id = 77", "PRAGMA journal_mode = WAL", "PRAGMA encoding = 'UTF-16'", "VACUUM", "HASH",
    "UPDATE entries SET job = 2 WHERE number > 3", "CREATE UNIQUE INDEX one ON entries (kind)",
    "UPDATE sqlite_sequence SET seq = 9223372036854775807", "DELETE FROM sqlite_sequence",
)  # fmt: skip


def backup_file() -> Reader:
    """A backup: its bytes damaged, or its tables changed by someone who knows SQL and mends the hashes (HASH)."""
    made = folder()
    backup(some_store(made / "jobs"), made / "backup.sqlite")
    good = (made / "backup.sqlite").read_bytes()
    pieces = [b"\x00", b"\xff", b"SQLite format 3\0", b"CREATE TABLE", b"\x00\x01", b"\x0d", b"\x05", *(one.encode() + b";;" for one in STATEMENTS)]

    def read(data: bytes) -> bool:
        where = folder()
        try:
            file = where / "backup.sqlite"
            if b";;" in data and not data.startswith(b"SQLite format 3\0"):
                file.write_bytes(good)
                _changed(file, [one for one in data.decode(errors="replace").split(";;") if one in STATEMENTS])
            else:
                file.write_bytes(data)
            store = some_store(where / "jobs")
            before = [job.log for job in store.jobs()]
            try:
                restore(store, file)
            except JobError as refused:
                assert str(refused)
                store = open_store(where / "jobs")
                assert [job.log for job in store.jobs()] == before, "a refused backup changed the store"
                return False
            store = open_store(where / "jobs")
            whole(store)
            made = store.create(Opened(at=AT, title="after", fingerprint="f"))
            made.append(Answer(at=AT, check="look-at-cord", answer="no"))
            assert len(open_store(where / "jobs").find(made.number).log) == 2, "what was acknowledged is not there"
            return True
        finally:
            shutil.rmtree(where)

    return Reader([good], pieces, read)


def _changed(file: Path, statements: Sequence[str]) -> None:
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.text_factory = bytes
        for one in statements:
            with suppress(sqlite3.Error):
                if one == "HASH":
                    _rehashed(connection)
                else:
                    connection.executescript(one)


def _rehashed(connection: sqlite3.Connection) -> None:
    """The chain of hashes made anew over what stands there."""
    last: dict[object, str] = {}
    rows = connection.execute("SELECT place, job, body FROM entries ORDER BY job, number").fetchall()
    for place, job, body in rows:
        text = body.decode(errors="replace") if isinstance(body, bytes) else str(body)
        last[job] = hashlib.sha256(f"{last.get(job, '')}\n{text}".encode()).hexdigest()
        connection.execute("UPDATE entries SET hash = ? WHERE place = ?", (last[job], place))


def answer_file() -> Reader:
    """An answer file, run to its end on the small base."""
    file = folder() / "job.yaml"

    def read(data: bytes) -> bool:
        file.write_bytes(data)
        try:
            told = read_answers(file, session())
        except KnowledgeError as refused:
            assert refused.problems
            return False
        try:
            done = run(told, session(), lambda: AT)
        except AnswerError as refused:
            assert str(refused)
            return False
        assert done.standing.next
        return True

    pieces = tuple(word.encode() for word in (
        "job", "amp", "complaints", "says", "symptom", "crackle", "runs-hot", "holds", "checks", "repairs", "truth", "expect",
        "look-at-cord", "turn-and-listen", "sweep-ohms", "control-dc", "plates", "plate-volts", "cathode-current", "4k7", "1e9",
        "replace-capacitor", "clean-control", ": ", "{", "}", "[", "]", ", ", "\n", "  ", "- ", "null", "true", '"yes"', "no",
        "smooth", "can't tell", "not this amp", "0", "-1", "1e400", ".nan", "circuit", "single-ended-6v6gt", "power-tube", "KT99", "&a ", "*a",
    ))  # fmt: skip
    return Reader([JOB.read_bytes()], pieces, read)


def circuit_file() -> Reader:
    """A circuit file, solved."""
    from ..circuit.test_files import GOOD

    file = folder() / "amp.yaml"

    def read(data: bytes) -> bool:
        file.write_bytes(data)
        try:
            circuit = load_circuit(file).circuit
        except KnowledgeError as refused:
            assert refused.problems
            assert all(one.message for one in refused.problems)
            return False
        try:
            rows = chart(circuit).rows
        except NoOperatingPoint as told:
            assert str(told)
            return False
        assert all(math.isfinite(row.volts) for row in rows)
        return True

    shipped = [archetypes()["single-ended-6v6gt"].read_bytes()]
    found = sorted({word.strip(b" ,{}[]:") for word in b" ".join((GOOD.encode(), *shipped)).split()} - {b""})
    pieces = [*found, b"0", b"-1", b"1e300", b"1e-300", b".nan", b".inf", b"null", b"[]", b"{}", b": ", b", ", b"\n", b"  "]
    return Reader([GOOD.encode(), *shipped], pieces, read)


def typed_back() -> Reader:
    """A checklist that was filled in by hand and is typed back from a file."""
    store = some_store(folder() / "jobs")
    first = some_log()[0]
    assert isinstance(first, Opened)

    def read(data: bytes) -> bool:
        job = store.create(first, *some_log()[1:2])
        lines = [clean(line) for line in data.decode("utf-8", "replace").splitlines()]
        code = next((line for line in lines if line.startswith("sheet")), "")
        try:
            sheet = filled_sheet.sheet_of(session(), job.log, job.number, code)
        except AnswerError as refused:
            assert str(refused)
            sheet = checklist(session().read(job.log), job.log, job.number)
        typing = filled_sheet.Typing(session(), job, sheet)
        typing.file(line for line in lines if not line.startswith("sheet"))
        assert all(text and why for text, why in typing.kept.lost)
        assert store.find(job.number).log == job.log
        assert session().read(job.log).next
        return typing.kept.entries > 0

    start = b"1 ok\n2 yes\n3 2.5 V\n4 yes\n5 462.5\n6 28mA\n# a remark\n"
    pieces = (b"1 ", b"2 ", b"3: ", b"4=", b"5) ", b"6. ", b"99 ", b"ok", b"yes", b"no", b"skip", b"can't tell", b"not this amp", b"462.5", b"28mA", b"1e9!", b"4k7",
              b"\n", b"!", b"sheet 1-2-1a2b\n", b"sheet ", b"\xc2\xb2 ", b"\xd9\xa1 ", b"OL", b"smooth", b"jumps", b"\r", b"\x85", b"\x1b[2J")  # fmt: skip
    return Reader([start], pieces, read)


def trade_notation() -> Reader:
    """A reading in trade notation, in each unit: what is read is shown in words that read the same again."""

    def read(data: bytes) -> bool:
        text = data.decode("utf-8", "surrogateescape")
        taken = False
        for unit, entry in UNITS.items():
            for allow_open in (False, True):
                try:
                    value = notation.parse(text, unit, allow_open).value
                except notation.NotationError as refused:
                    assert str(refused)
                    continue
                taken = True
                assert math.isinf(value) if allow_open and not math.isfinite(value) else entry.low <= value <= entry.high
                back = notation.parse(notation.show(value, unit), unit, allow_open=True).value
                assert back == value or math.isclose(back, value, rel_tol=6e-4, abs_tol=1e-15), (text, unit, value, back)
        return taken

    pieces = tuple(word.encode() for word in (
        *"0123456789", ".", ",", "-", "+", "e", "E", "k", "K", "M", "m", "u", "µ", "μ", "n", "p", "G", "meg", "R", "r", "L", "F", "V", "A", "Ω", "Ω", "W", "Hz",
        " ", "ohm", "volts", "mA", "min", "s", "dB", "%", "°C", "mm²", "mF", "MFD", "OL", "open", "∞", "−", "٣", "²", "1e308", "4k7", "2n2", "_", "inf", "nan",
    ))  # fmt: skip
    return Reader([b"4k7", b"0.022u", b"-38V", b"60 mA", b"2n2", b"47R", b"OL"], pieces, read)


def players_words() -> Reader:
    """What a player says, matched to symptoms; and amp facts as they are told."""
    base = load.load(SMALL)

    def read(data: bytes) -> bool:
        text = clean(data.decode("utf-8", "replace"))
        found = words.matches(base, text)
        assert all(0 <= one.score <= 100 + 1e-9 and one.symptom in base.symptoms for one in found)
        assert words.best_match(base, text) in {None, *base.symptoms}
        taken = bool(found)
        for call in (amp_words.complaint, lambda base, text: amp_words.amp_facts(base, [text])):
            try:
                call(base, text)
                taken = True
            except AnswerError as refused:
                assert str(refused)
        return taken

    pieces = tuple(word.encode() for word in (
        "it", "crackles", "when", "I", "turn", "the", "volume", "hot", "tubes", "get", " ", "'", "=", "crackle", "runs-hot", "crackle=", "power-tube=",
        "6V6GT", "rectifier=", "ß", "İ", "é", "ﬁ", "\u0301", "0", "unknown", "none", "yes", "not", "scratchy", "\n", "-", "ing", "ed", "_",
    ))  # fmt: skip
    return Reader([b"it crackles when I turn the volume", b"power-tube=6V6GT"], pieces, read)


READERS: Mapping[str, Callable[[], Reader]] = {
    "layer": layer,
    "price-list": price_list,
    "exported-jobs": exported_jobs,
    "backup": backup_file,
    "answer-file": answer_file,
    "circuit-file": circuit_file,
    "sheet-typed-back": typed_back,
    "trade-notation": trade_notation,
    "players-words": players_words,
}
