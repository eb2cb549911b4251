"""A YAML language server as an editor runs it, spoken to over pipes.

Language Server Protocol 3.17: messages with a Content-Length header; lines and columns count from
0, columns in UTF-16 units (here, all texts are of one unit a character).
"""

from __future__ import annotations

import json
import os
import subprocess
import threading
from dataclasses import dataclass, field
from pathlib import Path
from queue import Queue
from typing import Any

import pytest
from trials.tools import found

HERE = Path(__file__).parent
MODULES = HERE / "node_modules"
_REQUIRED = os.environ.get("HEADRACE_TOOLS") == "required"
_PATIENCE = 120
"""Seconds after which a server that says nothing counts as dead."""

SETTINGS = {
    "yaml": {
        "validate": True,
        "hover": True,
        "completion": True,
        "schemaStore": {"enable": False},
        "kubernetesCRDStore": {"enable": False},
    }
}


def node_program(name: str) -> list[str]:
    """The command of a program from `package-lock.json`. Skips the test where it is not installed;
    fails it where all tools are required."""
    node, script = found("node"), MODULES / ".bin" / name
    if node is not None and script.exists():
        return [node, str(script.resolve())]
    said = f"not installed: {name} (npm ci --prefix tests/editor)"
    if _REQUIRED:
        pytest.fail(said)
    pytest.skip(said)


@dataclass(frozen=True, order=True)
class Problem:
    """What an editor underlines: line and column from 1, as headrace counts, and the column behind
    its end."""

    line: int
    column: int
    end: int
    text: str

    @classmethod
    def of(cls, told: dict[str, Any]) -> Problem:
        begin, end = told["range"]["start"], told["range"]["end"]
        return cls(begin["line"] + 1, begin["character"] + 1, end["character"] + 1, told["message"])


@dataclass(frozen=True)
class Offer:
    """What an editor offers to write: its name, the text, and what is told of it."""

    label: str
    text: str
    told: str

    @classmethod
    def of(cls, item: dict[str, Any]) -> Offer:
        told = item.get("documentation") or ""
        text = item.get("textEdit", {}).get("newText", item.get("insertText", item["label"]))
        return cls(item["label"], text, told if isinstance(told, str) else told["value"])


@dataclass
class Server:
    """One running server; `tries` counts how often it has tried to reach a network."""

    process: subprocess.Popen[bytes]
    tries: int = 0
    _answers: dict[int, Queue[Any]] = field(default_factory=dict)
    told: dict[str, Queue[Any]] = field(default_factory=dict)
    _number: int = 0

    @classmethod
    def start(cls, folder: Path) -> Server:
        """A server for a workspace, without a network."""
        node, script = node_program("yaml-language-server")
        process = subprocess.Popen(
            [node, "--require", str(HERE / "offline.cjs"), script, "--stdio"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        server = cls(process)
        for listen in (server._read, server._overhear):
            threading.Thread(target=listen, daemon=True).start()
        server.ask(
            "initialize",
            processId=os.getpid(),
            rootUri=folder.as_uri(),
            workspaceFolders=[{"uri": folder.as_uri(), "name": folder.name}],
            capabilities={
                "workspace": {"configuration": True, "workspaceFolders": True},
                "textDocument": {
                    "completion": {"completionItem": {"documentationFormat": ["markdown"]}},
                    "hover": {"contentFormat": ["markdown"]},
                },
            },
        )
        server.tell("initialized")
        return server

    def open(self, path: Path, text: str | None = None) -> Document:
        """The file at `path`; with a text, a new file of that text beside it, as it stands in an
        editor before it is saved."""
        if text is None:
            text = path.read_text("utf-8")
        else:
            path = path.with_name(f"{path.stem}~{len(self.told)}{path.suffix}")
        uri = path.as_uri()
        self.told[uri] = Queue()
        document = {"uri": uri, "languageId": "yaml", "version": 1, "text": text}
        self.tell("textDocument/didOpen", textDocument=document)
        return Document(self, uri, text)

    def ask(self, method: str, **params: Any) -> Any:
        """Send a request, and wait for what comes of it."""
        self._number += 1
        number = self._number
        self._answers[number] = Queue()
        self._send({"id": number, "method": method, "params": params})
        answer = self._answers[number].get(timeout=_PATIENCE)
        del self._answers[number]
        assert "error" not in answer, answer
        return answer.get("result")

    def tell(self, method: str, **params: Any) -> None:
        self._send({"method": method, "params": params})

    def stop(self) -> None:
        self.ask("shutdown")
        self.tell("exit")
        self.process.wait(_PATIENCE)
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            assert pipe is not None
            pipe.close()

    def _send(self, message: dict[str, Any]) -> None:
        data = json.dumps({"jsonrpc": "2.0", **message}).encode()
        assert self.process.stdin is not None
        self.process.stdin.write(b"Content-Length: %d\r\n\r\n%s" % (len(data), data))
        self.process.stdin.flush()

    def _read(self) -> None:
        """In a thread of its own: take what the server says, and answer what it asks."""
        pipe = self.process.stdout
        assert pipe is not None
        while header := pipe.readline():
            length = int(header.split(b":")[1])
            while pipe.readline().strip():
                pass  # further headers
            self._taken(json.loads(pipe.read(length)))

    def _overhear(self) -> None:
        """In a thread of its own: count what `offline.cjs` tells."""
        pipe = self.process.stderr
        assert pipe is not None
        for line in pipe:
            self.tries += line == b"TRIED\n"

    def _taken(self, message: dict[str, Any]) -> None:
        method, params = message.get("method"), message.get("params") or {}
        if method is None:
            self._answers[message["id"]].put(message)
        elif method == "textDocument/publishDiagnostics":
            if (waiting := self.told.get(params["uri"])) is not None:
                waiting.put(params["diagnostics"])
        elif "id" in message:
            result: Any = None
            if method == "workspace/configuration":
                result = [SETTINGS.get(item.get("section"), {}) for item in params["items"]]
            self._send({"id": message["id"], "result": result})


@dataclass(frozen=True)
class Document:
    """A file that is open in the editor."""

    server: Server
    uri: str
    text: str

    def problems(self) -> list[Problem]:
        """What is wrong with it, in the order of the text; waits for the server's first word."""
        waiting = self.server.told[self.uri]
        found = waiting.get(timeout=_PATIENCE)
        waiting.put(found)
        return sorted(map(Problem.of, found))

    def hover(self, words: str, on: str | None = None) -> str:
        """What is shown with the pointer on `on` in the only place where the text has `words`."""
        assert self.text.count(words) == 1, words
        shown = self._ask("hover", self.text.index(words) + words.index(on or words))
        return "" if shown is None else str(shown["contents"]["value"])

    def offers(self, at: int) -> list[Offer]:
        """What is offered with the cursor before this character."""
        found = self._ask("completion", at)
        return [Offer.of(item) for item in (found["items"] if isinstance(found, dict) else found)]

    def _ask(self, what: str, at: int) -> Any:
        before = self.text[:at]
        place = {"line": before.count("\n"), "character": len(before.rpartition("\n")[2])}
        document = {"uri": self.uri}
        return self.server.ask(f"textDocument/{what}", textDocument=document, position=place)
