"""The one address that takes files; everything else goes through Dash."""

from __future__ import annotations

from typing import Any, BinaryIO, cast

from flask import Flask, Response, jsonify, request

from analyzer.logs.bounds import MAX_UPLOAD_BYTES
from analyzer.records.people import NotAllowedError, Role
from analyzer.reports.plainly import plainly
from dashboards.background import StillWorkingError
from dashboards.signing_in import person_here
from dashboards.staging import NotReceivedError, Staging

#: The page sends this; a form on another site cannot, so that nobody else's page brings files in.
HEADER, VALUE = "X-Taper", "bring-in"


def add_receiver(server: Flask, staging: Staging) -> None:
    """Take files at POST /bring-in/file?name=...; answers with the keys of the logs in it, or with why not."""

    @server.post("/bring-in/file")
    def receive() -> tuple[Response, int] | Any:
        if request.headers.get(HEADER) != VALUE:
            return jsonify(because="files are only taken from the page itself"), 403
        try:
            person_here().allow(Role.EDITOR)
        except NotAllowedError as problem:
            return jsonify(because=plainly(problem)), 403
        if (request.content_length or 0) > MAX_UPLOAD_BYTES:
            return jsonify(because=f"it is larger than the {MAX_UPLOAD_BYTES / 1e6:,.0f} MB that are taken"), 413
        try:
            return jsonify(
                keys=staging.of(person_here().name).receive(
                    request.args.get("name", ""), cast(BinaryIO, request.stream)
                )
            )
        except StillWorkingError as working:
            return jsonify(because=plainly(working)), 503
        except NotReceivedError as refused:
            return jsonify(because=plainly(refused)), 400
        except OSError as problem:
            return jsonify(because=f"it cannot be written down here ({problem.strerror or problem})"), 507
