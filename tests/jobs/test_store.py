"""A store keeps every entry that was finished, in order, whatever another bench does; the same on either database."""

from __future__ import annotations

import stat
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.embedded import ENVIRONMENT, default_folder
from chopstick.engine.jobs.store.errors import JobError, MovedOn
from chopstick.engine.jobs.store.store import Store, open_store
from chopstick.engine.reasoning.log import (
    AmpFactsTold,
    Answer,
    Approved,
    Awaited,
    Closed,
    Complaint,
    Details,
    HoldAnswered,
    LogEntry,
    Note,
    Reading,
    RepairDone,
    Undone,
)
from sqlalchemy import text

from .conftest import AT, OpenStore, note, opened


def test_jobs_are_numbered_from_one(store: Store) -> None:
    assert [store.create(opened()).number for _ in range(3)] == [1, 2, 3]


def test_what_is_appended_is_read_back(store: Store, open_again: OpenStore) -> None:
    job = store.create(opened(), Complaint(at=AT, says="it hums", symptom="hum"))
    job.append(note("smells of hot resin"), note("Ω, µ, \x00, \u2028 and \n a line end"))
    assert open_again().find(1).log == job.log
    assert [entry.kind for entry in job.log] == ["opened", "complaint", "note", "note"]


def test_a_missing_job_and_an_empty_store_say_so(store: Store) -> None:
    with pytest.raises(JobError, match="no job in") as none:
        store.find()
    assert none.value.todo == ("start a job",)
    store.create(opened())
    for number in (7, 0, 10**30):
        with pytest.raises(JobError, match=f"there is no job {number} in"):
            store.find(number)


def test_reading_makes_no_folder(tmp_path: Path) -> None:
    """Looking into a folder that is not there leaves nothing behind."""
    assert open_store(tmp_path / "jobs").listed() == []
    assert not (tmp_path / "jobs").exists()


def test_the_last_one_written_to_is_found(store: Store) -> None:
    first, _ = store.create(opened("one")), store.create(opened("two"))
    assert store.find().number == 2
    first.append(note("again"))
    assert store.find().number == 1


def test_the_list_tells_what_each_job_is_and_how_it_stands(store: Store) -> None:
    store.create(opened("one"), RepairDone(at=AT, repair="fit-fuse", cause="fuse-blown"))
    later = AT + timedelta(hours=2)
    two = store.create(opened("two"), Closed(at=later, was=("fuse-wrong", "fuse-blown")))
    one, other = store.listed()
    assert (one.number, one.title, one.opened, one.entries, one.closed) == (1, "one", AT, 2, False)
    assert one.faults == ("fuse-blown",)
    assert (other.closed, other.last, other.faults) == (True, later, ("fuse-wrong", "fuse-blown"))
    two.append(Undone(at=AT, number=2))  # it came back the same day
    assert store.listed()[1].closed is False


def test_every_job_is_read(store: Store) -> None:
    made = [store.create(opened(str(number)), *[note("x")] * number) for number in range(4)]
    assert [(job.number, job.log) for job in store.jobs()] == [(job.number, job.log) for job in made]


def test_times_without_a_zone_are_taken_as_utc(store: Store) -> None:
    """A job's times sort as times, whatever zone they were told in."""
    job = store.create(opened(), Note(at=datetime(2026, 1, 1, 12, 0), text="noon"))
    assert store.listed()[0].last == datetime(2026, 1, 1, 12, 0, tzinfo=AT.tzinfo)
    assert store.find(1).log == job.log


# --- two benches on one job ---


def test_entries_of_two_benches_are_merged_in_order(store: Store, open_again: OpenStore) -> None:
    store.create(opened())
    one, other = store.find(1), open_again().find(1)
    assert one.append(Answer(at=AT, check="look-at-cord", answer="yes")) == ()
    came = other.append(Reading(at=AT, check="plates", values={"a": 410.0}))
    assert came == (Answer(at=AT, check="look-at-cord", answer="yes"),)
    assert [entry.kind for entry in other.log] == ["opened", "answer", "reading"]
    assert one.renew() == (other.log[-1],)
    assert one.log == other.log == store.find(1).log


ANSWER = Answer(at=AT, check="look-at-cord", answer="yes")
CLASHES: list[tuple[LogEntry, LogEntry, str]] = [
    (ANSWER, Answer(at=AT, check="look-at-cord", answer="no"), "'look-at-cord' was entered there too"),
    (ANSWER, Reading(at=AT, check="look-at-cord", values={"a": 1.0}), "'look-at-cord' was entered there too"),
    (HoldAnswered(at=AT, hold="discharged", cleared=False), ANSWER, "the hold 'discharged' was answered no"),
    (HoldAnswered(at=AT, hold="discharged", cleared=False), HoldAnswered(at=AT, hold="discharged", cleared=True),
     "'discharged' was entered there too"),
    (RepairDone(at=AT, repair="a", cause="c"), RepairDone(at=AT, repair="b", cause="c"), "repair for 'c'"),
    (Undone(at=AT, number=2), Undone(at=AT, number=2), "the undoing of entry '2'"),
    (Complaint(at=AT, says="hum", symptom="hum"), Complaint(at=AT, says="hmm", symptom="hum"), "complaint 'hum'"),
    (AmpFactsTold(at=AT, amp={"era": "1960s"}), AmpFactsTold(at=AT, amp={"era": "1970s"}), "amp fact 'era'"),
    (Closed(at=AT), ANSWER, "the job was closed"),
    (ANSWER, Closed(at=AT), "the job you close was worked on"),
    (Note(at=AT, text="owner rang"), Closed(at=AT), "the job you close has got a note"),
    (Awaited(at=AT, part="choke"), Awaited(at=AT, part="choke"), "the part 'choke'"),
    (Approved(at=AT), Approved(at=AT, approved=False), "something of the kind 'approved'"),
    (Details(at=AT, serial="A 1"), Details(at=AT, serial="A 7"), "the detail 'serial'"),
]  # fmt: skip
FIT = [
    (ANSWER, Answer(at=AT, check="look-at-fuse", answer="yes")),
    (ANSWER, Note(at=AT, text="owner rang")),
    (Closed(at=AT), Note(at=AT, text="owner rang")),
    (HoldAnswered(at=AT, hold="discharged", cleared=True), HoldAnswered(at=AT, hold="discharged", cleared=True)),
    (HoldAnswered(at=AT, hold="discharged", cleared=True), ANSWER),
    (AmpFactsTold(at=AT, amp={"era": "1960s"}), AmpFactsTold(at=AT, amp={"reverb": True})),
    (Details(at=AT, serial="A 1"), Details(at=AT, budget=150.0)),
    (Awaited(at=AT, part="choke"), Awaited(at=AT, part="rectifier tube")),
]


@pytest.mark.parametrize(("theirs", "mine", "why"), CLASHES)
def test_what_touches_the_other_bench_s_entry_is_asked_first(
    theirs: LogEntry, mine: LogEntry, why: str, tmp_path: Path
) -> None:
    store = open_store(tmp_path)
    store.create(opened(), note("so far"))
    one, other = store.find(1), store.find(1)
    one.append(theirs)
    with pytest.raises(MovedOn, match="job 1 moved on: 1 entry came in meanwhile") as moved:
        other.append(mine)
    assert why in moved.value.why
    assert moved.value.came == (theirs,)
    assert store.find(1).log == other.log == one.log  # nothing of the second bench's is kept
    assert other.append(mine) == ()  # a person has looked, and wants it all the same
    assert store.find(1).log[-2:] == [theirs, mine]


@pytest.mark.parametrize(("theirs", "mine"), FIT)
def test_what_does_not_touch_it_follows(theirs: LogEntry, mine: LogEntry, tmp_path: Path) -> None:
    store = open_store(tmp_path)
    store.create(opened())
    one, other = store.find(1), store.find(1)
    one.append(theirs)
    assert other.append(mine) == (theirs,)
    assert store.find(1).log[-2:] == [theirs, mine]


def test_a_command_that_must_look_again_is_not_merged(store: Store, open_again: OpenStore) -> None:
    store.create(opened())
    one, other = store.find(1), open_again().find(1)
    one.append(note("first bench"))
    with pytest.raises(MovedOn) as moved:
        other.append(note("second bench"), merge=False)
    assert moved.value.why == ""
    assert other.log == one.log


def test_a_set_is_kept_whole_or_not_at_all(store: Store) -> None:
    """`take` gives several entries at once; one that can't be written leaves none of them."""
    job = store.create(opened())
    spoilt = Note.model_construct(kind="note", at=AT, text=object())
    with pytest.raises(Exception, match="serialize"):
        job.append(note("good"), spoilt)
    assert len(job.log) == len(store.find(1).log) == 1


# --- nothing is ever changed ---


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET body = '{}'",
        "DELETE FROM entries",
        "DELETE FROM entries WHERE number = 2",
        "UPDATE jobs SET number = 5",
        "INSERT INTO entries (job, number, at, kind, body, hash) VALUES (1, 4, '', 'note', '{}', '')",
        "INSERT INTO entries (job, number, at, kind, body, hash) VALUES (1, 2, '', 'note', '{}', '')",
    ],
)
def test_the_database_itself_refuses_to_change_an_entry(statement: str, store: Store) -> None:
    job = store.create(opened(), note("kept"))
    with pytest.raises(JobError, match="never changed or taken out"), store.database.writing() as connection:
        connection.execute(text(statement))
    assert store.find(1).log == job.log


def test_replacing_is_refused_too(tmp_path: Path) -> None:
    """SQLite takes a row out for `INSERT OR REPLACE` without asking the triggers on deletion."""
    store = open_store(tmp_path)
    job = store.create(opened(), note("kept"))
    for place, number in ((2, 3), (9, 2)):
        words = f"INSERT OR REPLACE INTO entries VALUES ({place}, 1, {number}, '', 'note', '{{}}', '')"
        with pytest.raises(JobError, match="never changed"), store.database.writing() as connection:
            connection.execute(text(words))
    assert store.find(1).log == job.log


def test_a_server_refuses_to_empty_the_table(cluster: object, tmp_path: Path) -> None:
    from .conftest import Cluster

    assert isinstance(cluster, Cluster)
    store = open_store(tmp_path, cluster.new())
    store.create(opened())
    with pytest.raises(JobError, match="never changed"), store.database.writing() as connection:
        connection.execute(text("TRUNCATE entries"))
    assert len(store.find(1).log) == 1


# --- where it is kept ---


def test_folder_and_file_are_private(tmp_path: Path) -> None:
    store = open_store(tmp_path / "shop" / "jobs")
    store.create(opened())
    assert stat.S_IMODE(Path(store.where).stat().st_mode) == 0o600
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o700
    assert [path.name for path in store.folder.iterdir()] == ["jobs.sqlite"]  # no journal stays behind


def test_the_folder_can_be_chosen_by_the_environment(tmp_path: Path) -> None:
    assert default_folder({ENVIRONMENT: str(tmp_path)}) == tmp_path
    assert default_folder({}).name == "jobs"


def test_a_file_in_the_way_of_the_folder_says_what_to_do(tmp_path: Path) -> None:
    (tmp_path / "jobs").write_text("")
    with pytest.raises(JobError) as barred:
        open_store(tmp_path / "jobs").create(opened())
    assert barred.value.todo == ("other folder",)


@pytest.mark.parametrize("url", ["mysql://x", "postgres", "sqlite:///x"])
def test_another_kind_of_url_is_refused_with_the_right_form(url: str, tmp_path: Path) -> None:
    with pytest.raises(JobError, match="postgresql://USER@HOST/DATABASE"):
        open_store(tmp_path, url)


def test_a_server_that_is_not_there_is_told_without_its_password(tmp_path: Path) -> None:
    store = open_store(tmp_path, f"postgresql://me:secret@/jobs?host={tmp_path}")
    with pytest.raises(JobError, match="can't be reached") as told:
        store.find(1)
    assert "secret" not in str(told.value)
