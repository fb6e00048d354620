"""Style, faces and scripts, each under an address that changes when its bytes do."""

import hashlib
from pathlib import Path

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

__all__ = ["Assets"]

FOLDER = Path(__file__).with_name("static")


class Assets:
    """Files of ``static/``; the address holds one stamp of all their bytes."""

    def __init__(self, folder: Path = FOLDER) -> None:
        self.folder = folder
        self._names = frozenset(
            str(path.relative_to(folder).as_posix()) for path in folder.rglob("*") if path.is_file()
        )
        stamp = hashlib.sha256()
        for name in sorted(self._names):
            stamp.update(name.encode("utf-8"))
            stamp.update((folder / name).read_bytes())
        self.address = f"/static/{stamp.hexdigest()[:12]}"

    def files(self) -> StaticFiles:
        """App that serves the files; browsers may keep them for a year."""
        return _Kept(directory=self.folder)

    def url(self, name: str) -> str:
        """Address of one file.

        Raises
        ------
        LookupError
            If there is no such file: a template names what isn't there.
        """
        if name not in self._names:
            raise LookupError(f"no static file {name}")
        return f"{self.address}/{name}"


class _Kept(StaticFiles):
    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        if response.status_code == 200:
            response.headers["cache-control"] = "public, max-age=31536000, immutable"
        return response
