"""`chopstick paper`: checklists, work orders, reports and records, for the bench, the shop and the owner."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ...engine.late import late
from .. import exits
from ..desk import JobsFolder, KnowledgeFolder, job_of, knowledge, session, session_of, sheet_session
from ..screen.screen import Screen

if TYPE_CHECKING:
    from ...engine.reasoning.session import Session, Standing

with late():
    from ...engine.reasoning import log
    from .. import desk, written
    from ..papers import checklist as papers_checklist
    from ..papers import estimate as papers_estimate
    from ..papers import handback, models, work, write
    from ..papers import intake as papers_intake
    from ..papers import record as papers_record
    from ..sitting import amp_words


class Kind(StrEnum):
    """Which paper."""

    intake = "intake"
    check_over = "check-over"
    checklist = "checklist"
    estimate = "estimate"
    work_order = "work-order"
    hand_back = "hand-back"
    record = "record"


class Format(StrEnum):
    """How it is written: Markdown, HTML that stands alone, PDF, or (a record's readings) comma-separated."""

    md = "md"
    html = "html"
    pdf = "pdf"
    csv = "csv"


class Page(StrEnum):
    """The paper it will be printed on."""

    A4 = "A4"
    Letter = "Letter"


BLANK = (Kind.intake, Kind.check_over)
SHEETS = (Kind.checklist, Kind.check_over)

Which = Annotated[Kind, typer.Argument(metavar="KIND", help=", ".join(Kind))]
Job = Annotated[int | None, typer.Argument(help="Number of the job; intake and check-over do without one.")]
To = Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Where to; its ending tells the format.")]
As = Annotated[Format | None, typer.Option("--format", help="md, html, pdf or csv; md when nothing tells.")]
On = Annotated[Page, typer.Option("--page", help="A4 or Letter.")]
AmpFacts = Annotated[
    list[str] | None, typer.Option("--amp", metavar="FACT=VALUE", help="About the amp, for a check-over without a job.")
]
Yes = Annotated[bool, typer.Option("--yes", help="With --to: write over a file that is there, without asking.")]
Minutes = Annotated[float, typer.Option("--minutes", min=0, max=600, help="Of a check-over, beside safety.")]


def paper(
    kind: Which,
    job: Job = None,
    to: To = None,
    form: As = None,
    page: On = Page.A4,
    amp: AmpFacts = None,
    minutes: Minutes = 60.0,
    yes: Yes = False,
    jobs: JobsFolder = None,
    kb: KnowledgeFolder = None,
) -> None:
    """Print a paper for the bench, the shop or the owner.

    intake: a blank sheet for a newly arrived amp. check-over: every safety check and a sensible round of others, for
    an amp with no complaint. checklist: what to check on a job now, with room for readings; typed back with `take
    --sheet`. estimate: what the owner is asked to approve. work-order: the repairs to do. hand-back: the report for
    the owner. record: everything, for the shop.

    \b
    chopstick paper checklist 12 --to checklist.pdf
    chopstick paper hand-back 12 --to report.html --page Letter
    chopstick paper check-over --amp bias=fixed --amp power-tube=6L6GC
    """
    code = _paper(kind, job, to, form, page, amp or (), minutes, yes, jobs, kb)
    raise typer.Exit(code)


def _paper(
    kind: Kind, number: int | None, to: Path | None, form: Format | None, page: Page, amp: list[str] | tuple[()],
    minutes: float, over: bool, jobs: Path | None, kb: Path | None,
) -> int:  # fmt: skip
    form = form or (Format(to.suffix[1:]) if to and to.suffix[1:] in list(Format) else Format.md)
    if form is Format.csv and kind is not Kind.record:
        return _wrong("only the record can be written as csv: its readings are a table")
    if form is Format.pdf and to is None and sys.stdout.isatty():
        return _wrong("a PDF is not for the screen; say where to: --to FILE.pdf")
    if amp and number is not None:
        return _wrong("--amp goes with a check-over without a job; to a job it is added with: chopstick take JOB --amp")
    made = _made(kind, number, amp, minutes, jobs, kb)
    try:
        if form is Format.pdf:
            content = write.pdf(made, page.value)
        elif form is Format.csv:
            assert isinstance(made, models.Record)
            content = write.comma_separated(made).encode()
        else:
            content = write.text(made, "md" if form is Format.md else "html", page.value).encode()
    except write.NoPdf as error:
        return _wrong(str(error))
    if to is None:
        sys.stdout.buffer.write(content)
    else:
        written.write(to, content, over, jobs, kb)
        Screen().line(f"Written: {to}")
    return exits.DONE


def _made(
    kind: Kind, number: int | None, amp: list[str] | tuple[()], minutes: float, jobs: Path | None, kb: Path | None
) -> object:
    """The paper as a value. Raises JobError, AnswerError, KnowledgeError."""
    if kind in BLANK and number is None:
        blank = kind is Kind.intake
        return (
            papers_intake.intake(knowledge(kb))
            if blank
            else papers_checklist.check_over(_without_job(session(kb), amp), minutes=minutes)
        )
    job = job_of(jobs, number)
    if kind is Kind.intake:
        return papers_intake.intake(knowledge(kb, job.path))
    if kind in SHEETS:
        now = sheet_session(kb, job).read(job.log)
        sheet = kind is Kind.checklist
        return (
            papers_checklist.checklist(now, job.log, job.number)
            if sheet
            else papers_checklist.check_over(now, job.log, job.number, minutes)
        )
    makers = {
        Kind.estimate: papers_estimate.estimate, Kind.work_order: work.work_order,
        Kind.hand_back: handback.hand_back, Kind.record: papers_record.record,
    }  # fmt: skip
    return makers[kind](session_of(kb, job).read(job.log), job.log, job.number)


def _without_job(reading: Session, amp: list[str] | tuple[()]) -> Standing:
    """The standing of an amp of which nothing is known but these facts."""
    base = reading.base
    return reading.read(
        [log.Opened(at=desk.now(), title="", fingerprint=base.fingerprint, amp=amp_words.amp_facts(base, amp))]
    )


def _wrong(message: str) -> int:
    Screen().trouble(f"chopstick: {message}")
    return exits.INPUT
