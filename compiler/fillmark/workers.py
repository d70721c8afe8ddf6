"""Have several processes do one piece of work after another, and stop them all when it is over.

A worker asks for a piece, does it and sends back what came of it. It writes no files: who asked does, so that
a worker may be stopped at any moment. When the process that asked is gone, so is the end of the pipe, and the
worker ends by itself.
"""

import os
import signal
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

T = TypeVar("T")

FORK_OR_SPAWN = "fork" if sys.platform == "linux" else "spawn"
"""A fork has all that was loaded at once; elsewhere than on Linux, system libraries do not bear it."""

RENEWED_AFTER = 200
"""Pieces a worker does before a fresh one takes its place: what a library keeps for itself is then let go."""


class WorkerLostError(Exception):
    """A worker ended before its piece was done: out of memory, or killed."""


class WorkerFailedError(Exception):
    """A worker met a fault of ours; the message is its trace."""


@dataclass(slots=True)
class _Worker:
    process: "BaseProcess"
    pipe: "Connection[Any, Any]"
    piece: int | None = None
    done: int = 0


def cores() -> int:
    """Count the processors that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class Crew(Generic[T]):
    """Some workers that all know one function of the number of a piece."""

    def __init__(
        self,
        work: Callable[[int], T],
        jobs: int,
        *,
        start: str = FORK_OR_SPAWN,
        renewed_after: int = RENEWED_AFTER,
    ) -> None:
        """Take the function and how many workers to have; with `spawn` the function must be picklable."""
        import multiprocessing  # noqa: PLC0415 - it takes its time, and most runs need one process

        self._work = work
        self._jobs = jobs
        self._context: Any = multiprocessing.get_context(start)
        self._renewed_after = renewed_after
        self._workers: list[_Worker] = []

    def each(self, pieces: int) -> Iterator[tuple[int, T]]:
        """Have pieces 0, 1, ... done, and give each with its number as it is finished.

        WorkerLostError where a worker was killed, WorkerFailedError where the function raised something else
        than OSError, which is raised as it is. However this ends, no worker is left.
        """
        from multiprocessing.connection import wait  # noqa: PLC0415 - idem

        waiting = iter(range(pieces))
        try:
            for piece in waiting:
                self._workers.append(self._fresh(piece))
                if len(self._workers) == self._jobs:
                    break
            while self._workers:
                by_pipe = {w.pipe: w for w in self._workers}
                for pipe in wait(list(by_pipe)):
                    worker = by_pipe[pipe]  # type: ignore[index]
                    piece, outcome = self._received(worker)
                    self._next(worker, next(waiting, None))
                    yield piece, outcome
        finally:
            self._stop()

    def _received(self, worker: _Worker) -> tuple[int, T]:
        piece = -1 if worker.piece is None else worker.piece
        try:
            kind, outcome = worker.pipe.recv()
        except (EOFError, ConnectionResetError) as error:
            worker.process.join(5)
            raise WorkerLostError(
                f"A process that was making documents ended before it was done (exit code {worker.process.exitcode})."
            ) from error
        if kind == "refused":
            raise outcome
        if kind == "failed":
            raise WorkerFailedError(outcome)
        worker.done += 1
        return piece, outcome

    def _next(self, worker: _Worker, piece: int | None) -> None:
        """Give a worker another piece, put a fresh one in its place, or let it go."""
        if piece is not None and worker.done < self._renewed_after:
            worker.piece = piece
            worker.pipe.send(piece)
            return
        self._workers.remove(worker)
        worker.pipe.close()
        worker.process.join()
        if piece is not None:
            self._workers.append(self._fresh(piece))

    def _fresh(self, piece: int) -> _Worker:
        here, there = self._context.Pipe()
        # A fork holds what is open here; the ends of the others must not stay open in it.
        others = (
            [here, *(w.pipe for w in self._workers)] if self._context.get_start_method() == "fork" else []
        )
        process = self._context.Process(target=_labour, args=(self._work, there, others), daemon=True)
        process.start()
        there.close()
        here.send(piece)
        return _Worker(process, here, piece)

    def _stop(self) -> None:
        for worker in self._workers:
            worker.process.terminate()
        for worker in self._workers:
            worker.pipe.close()
            worker.process.join()
        self._workers.clear()


def _labour(
    work: Callable[[int], Any], pipe: "Connection[Any, Any]", others: "list[Connection[Any, Any]]"
) -> None:
    """Do pieces until there are no more; this is all that a worker runs."""
    # The key that interrupts reaches every process of a terminal; the one that asked tells the workers to stop.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    for other in others:
        other.close()
    # Nobody hears the answer once the one who asked is gone.
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):
        while True:
            piece = pipe.recv()
            try:
                outcome = ("done", work(piece))
            except OSError as error:
                outcome = ("refused", error)
            except Exception:  # noqa: BLE001 - told to the one who asked, who raises it
                outcome = ("failed", traceback.format_exc())
            pipe.send(outcome)
