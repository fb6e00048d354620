"""How a long piece of work is shown while it goes on and when it has ended."""

from dataclasses import dataclass

from gaugewright.services.work.jobs import Job, JobState

__all__ = ["WORK", "JobShown", "Work", "job_shown"]


@dataclass(frozen=True, slots=True)
class Work:
    """A kind of work: its name, the page where its outcome stands, and that page's step."""

    name: str
    page: str
    page_words: str
    step: str


WORK = {
    "archive": Work("Making the archive", "handed", "Sheets and archive", "handover"),
    "prove": Work("Proving the archive", "handed", "Sheets and archive", "handover"),
    "reduce": Work("Reducing the readings", "results", "Results", "results"),
    "report": Work("Building the report", "handover", "Handover", "handover"),
    "review": Work("Looking through the readings", "review", "Review", "review"),
    "schedule": Work("Improving the days", "plan/schedule", "Days at the bench", "plan"),
    "sheets": Work("Making the sheets", "handed", "Sheets and archive", "handover"),
}

WORDS = {
    JobState.QUEUED: "waiting to begin",
    JobState.RUNNING: "at work",
    JobState.DONE: "done",
    JobState.FAILED: "not done",
    JobState.CANCELLED: "stopped",
}


@dataclass(frozen=True, slots=True)
class JobShown:
    """What ``_job.html`` draws; ``url`` answers with the part again, ``cancel_url`` takes a POST.

    ``after_url`` and ``after_words`` lead on once the work is done, ``also`` beside them to what
    it made, and ``mend_url`` and ``mend_words`` back to what it was told when it failed.
    """

    uid: str
    name: str
    url: str
    cancel_url: str
    percent: int
    state: str
    message: str
    is_over: bool
    is_failed: bool
    is_stopping: bool
    after_url: str = ""
    after_words: str = ""
    also: tuple[str, str] = ("", "")
    mend_url: str = ""
    mend_words: str = ""


def job_shown(
    job: Job, *, name: str, url: str, cancel_url: str, after: tuple[str, str] = ("", "")
) -> JobShown:
    """A job for the page: ``name`` says in words what is done, ``after`` where it leads."""
    return JobShown(
        uid=job.uid,
        name=name,
        url=url,
        cancel_url=cancel_url,
        percent=int(100 * job.share),
        state=WORDS[job.state],
        message=job.message,
        is_over=job.state.is_over,
        is_failed=job.state is JobState.FAILED,
        is_stopping=job.cancel_asked and not job.state.is_over,
        after_url=after[0],
        after_words=after[1],
    )
