"""Reports and packages of all campaigns: write, open, save."""

from typing import Annotated

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, HTMLResponse
from pydantic import BaseModel, Field

from solidcopy.actions import report_files as action
from solidcopy.actions.background_job import Job
from solidcopy.web.pages import page
from solidcopy.web.routes.home import Space

router = APIRouter()


class JobState(BaseModel):
    """A command in the background."""

    is_running: Annotated[bool, Field(description="a process is at it now")]
    is_done: Annotated[bool, Field(description="the last one ended well")]
    failure: Annotated[str, Field(description="why the last one did not end well, or empty")]

    @classmethod
    def of(cls, job: Job) -> "JobState":
        """For a page."""
        return cls(is_running=job.is_running, is_done=job.is_done, failure=job.failure)


class ReportFile(BaseModel):
    """A file that lies on disk."""

    kind: Annotated[action.Kind, Field(description="which one")]
    n_bytes: Annotated[int, Field(description="its size")]
    written_utc: Annotated[str, Field(description="when, ISO 8601")]
    is_older: Annotated[bool, Field(description="outcomes were added to the journal since")]


class Files(BaseModel):
    """Files of one campaign."""

    name: Annotated[str, Field(description="of the campaign")]
    files: Annotated[list[ReportFile], Field(description="those that were written")]
    writing: Annotated[JobState, Field(description="of the report")]
    packing: Annotated[JobState, Field(description="of the package")]


def _files(space: Space, name: str) -> Files:
    found = action.report_files(space, name)
    return Files(
        name=name,
        files=[ReportFile.model_validate(file, from_attributes=True) for file in found.files],
        writing=JobState.of(found.writing),
        packing=JobState.of(found.packing),
    )


@router.get("/reports", response_class=HTMLResponse, include_in_schema=False)
def reports_page(request: Request, space: Space) -> HTMLResponse:
    """All campaigns; what takes a moment is fetched after it."""
    return page(request, "reports.html.j2", campaigns=space.campaigns())


@router.get("/api/reports/{name}")
def files(name: str, space: Space) -> Files:
    """What lies there of a campaign's report and package."""
    return _files(space, name)


@router.post("/api/reports/{name}", status_code=202)
def write(name: str, space: Space) -> Files:
    """Begin to write page, PDF, tables and figures anew, in a process of its own."""
    action.start_report(space, name)
    return _files(space, name)


@router.post("/api/reports/{name}/package", status_code=202)
def pack(name: str, space: Space) -> Files:
    """Begin to write the package of everything for somebody else, in a process of its own."""
    action.start_package(space, name)
    return _files(space, name)


@router.get("/api/reports/{name}/files/{kind}", response_class=FileResponse)
def save(name: str, kind: action.Kind, space: Space) -> FileResponse:
    """A file to save."""
    path, keep_as = action.report_file(space, name, kind)
    return FileResponse(path, filename=keep_as)
